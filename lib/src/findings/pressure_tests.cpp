// What to test next after one cylinder's pressure.
#include "pressure_context.hpp"
#include "values/notices.hpp"

namespace evenstroke::findings {

namespace {

/// What would help depends on what stood in the way.
void look_or_record_again(PressureContext& c) {
    if (has_notice(c.p.notices, "clipped")) {
        c.test("larger-range");
        return;
    }
    if (has_notice(c.p.notices, "no-fit") || has_notice(c.p.notices, "implausible"))
        c.test("check-dimensions");
    c.test("repeat-capture/pressure");
}

}  // namespace

void suggest_tests(PressureContext& c) {
    const bool read_well = c.p.kind == PressureKind::staircase &&
                           !has_notice(c.p.notices, "check-valve-leaks") &&
                           (c.p.puffs_stood || c.p.puffs_kpa_gauge.size() >= std::size_t{fewest_puffs});
    if (c.out.outcome == PressureVerdict::inconclusive && read_well)
        c.test("other-cylinder/gauge");
    else if (c.out.outcome == PressureVerdict::inconclusive && !c.look_again)
        look_or_record_again(c);
    if (c.out.outcome == PressureVerdict::inconclusive && c.p.leak_possible) c.test("leak-down");
    if (c.out.outcome == PressureVerdict::leaking || c.out.outcome == PressureVerdict::low_compression ||
        c.low_first_puff) {
        c.test("wet-test");
        c.test("leak-down");
    }
    if (c.out.outcome == PressureVerdict::low_compression) c.test("intake/no-leak");
    if (c.out.outcome == PressureVerdict::sealing) c.test("other-cylinder");
}

}  // namespace evenstroke::findings
