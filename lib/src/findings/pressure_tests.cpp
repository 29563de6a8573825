// What to test next after one cylinder's pressure.
#include "pressure_context.hpp"
#include "values/notices.hpp"

namespace evenstroke::findings {

namespace {

/// What would help depends on what stood in the way.
void look_or_record_again(PressureContext& c) {
    if (has_notice(c.p.notices, "clipped")) {
        c.test("larger-range",
               "Choose a larger range, or a transducer for higher pressure, and record again in the same "
               "way.");
        return;
    }
    if (has_notice(c.p.notices, "no-fit") || has_notice(c.p.notices, "implausible"))
        c.test("check-dimensions",
               "Check bore, stroke, rod, compression ratio, unit and scale, and analyse this recording "
               "again: if one was wrong, nothing need be recorded anew.");
    c.test("repeat-capture",
           "Record again: every plug out, throttle wide open, fuel and ignition disabled, engine warm, "
           "at least four compressions.");
}

}  // namespace

void suggest_tests(PressureContext& c) {
    const bool read_well =
        c.p.kind == PressureKind::staircase && c.p.puffs_kpa_gauge.size() >= std::size_t{fewest_puffs};
    if (c.out.outcome == PressureVerdict::inconclusive && read_well)
        c.test("other-cylinder",
               "The gauge on every other cylinder in the same way: the lowest should reach at least 75 % of "
               "the highest. Look up the maker's figure.");
    else if (c.out.outcome == PressureVerdict::inconclusive && !c.look_again)
        look_or_record_again(c);
    if (c.out.outcome == PressureVerdict::leaking || c.out.outcome == PressureVerdict::low_compression) {
        c.test("wet-test",
               "Wet test (spark ignition only): 15 ml of oil in this cylinder and the recording again. A "
               "clear rise points to rings or bore; none points to valves or head gasket.");
        c.test("leak-down",
               "Leak-down test at TDC of compression with the crank held: listen at intake, exhaust, oil "
               "filler and coolant for where the air goes.");
    }
    if (c.out.outcome == PressureVerdict::low_compression)
        c.test("intake",
               "Without a leak: hold the throttle open, look for a blocked intake, and check valve timing "
               "and lift.");
    if (c.out.outcome == PressureVerdict::sealing)
        c.test("other-cylinder", "Record another cylinder the same way for comparison.");
}

}  // namespace evenstroke::findings
