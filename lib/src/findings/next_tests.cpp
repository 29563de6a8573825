// What to test next, cheapest first, one rule a row.
#include <fmt/core.h>

#include "rule_context.hpp"
#include "test_cautions.hpp"

namespace evenstroke::findings {

namespace {

bool needs_proof(const RuleContext& c) {
    return c.any(Verdict::weak) || c.any(Verdict::low);
}

std::vector<std::size_t> suspects(const RuleContext& c) {
    auto positions = c.with(Verdict::weak);
    for (const Verdict also : {Verdict::low, Verdict::unsure})
        for (const std::size_t i : c.with(also)) positions.push_back(i);
    return positions;
}

/// Where a gauge would go: a named cylinder, or what the position turns out to be.
std::string suspects_named(const RuleContext& c) {
    const auto positions = suspects(c);
    const bool can_name = !c.names.empty() && (c.named() || !c.names.front().possible.empty());
    if (can_name) return list(c, positions);
    return positions.size() == 1 ? "the cylinder in question, once it is named,"
                                 : "the cylinders in question, once they are named,";
}

std::string repeat_capture(const RuleContext&) {
    return "Record again: fuel and ignition disabled as the maker says, throttle held open, engine warm, "
           "five "
           "seconds of cranking from before the key is turned until after it is released.";
}

std::string repeat_with_sync(const RuleContext& c) {
    if (c.angle.kind != ReferenceKind::none && c.angle.once_per_turn)
        return "Record again with a mark that comes once in two turns (camshaft, or a trigger that fires "
               "only on "
               "compression): it tells the two candidates apart.";
    if (has_notice(c.angle.notices, "sync-unused"))
        return "Analyse this recording again with its own sync channel (--sync, see the notices) and "
               "--order: the "
               "position then gets its cylinder number.";
    const bool lead_known = !has_notice(c.contribution.notices, "phase-from-compression");
    const bool by_wheel = c.angle.kind == ReferenceKind::wheel && !c.angle.sync_channel.empty();
    if ((c.angle.kind == ReferenceKind::sync || (by_wheel && lead_known)) && c.layout.order.empty())
        return "Analyse this recording again with --order, the firing order from the cylinder of the mark "
               "on: the "
               "position then gets its cylinder number.";
    if (by_wheel)
        return fmt::format(
            "Analyse this recording again with --sync-lead, the crank degrees from the mark of \"{}\" to "
            "the TDC of its cylinder{}: the position then gets its cylinder number.",
            c.angle.sync_channel, c.layout.order.empty() ? ", and --order" : "");
    return "Record again with a sync channel on one known cylinder (camshaft, ignition or injector signal) "
           "and "
           "give --order: the position then gets its cylinder number.";
}

std::string repeat_longer(const RuleContext& c) {
    if (has_notice(c.contribution.notices, "poor-fit"))
        return "Check the firing intervals, the sync channel and its lead, then record again at steady "
               "cranking: "
               "the trace does not follow an engine of this layout.";
    return "Record again with the throttle held open and a longer crank, no more than 15 s at a time with 20 "
           "s "
           "of rest: more cycles narrow the interval.";
}

std::string repeat_same(const RuleContext& c) {
    if (c.angle.kind == ReferenceKind::none)
        return "Record once more: a weakness that is real comes back as large. Its position may be another, "
               "since "
               "each recording counts from its own first compression.";
    return "Record once more: a weakness that is real stays with its cylinder.";
}

std::string gauge_one(const RuleContext&) {
    return "Measure any one cylinder with a compression gauge and hold it against the maker's figure: it "
           "tells "
           "whether all are low together.";
}

std::string gauge_dry(const RuleContext& c) {
    if (suspects(c).size() == c.verdicts.size())
        return "Dry compression test with a gauge on every cylinder: engine warm, throttle wide open, 4 to 5 "
               "compressions, first and last reading noted.";
    return fmt::format(
        "Dry compression test with a gauge on {} and on one good cylinder for comparison: engine warm, "
        "throttle "
        "wide open, 4 to 5 compressions, first and last reading noted.",
        suspects_named(c));
}

std::string wet_test(const RuleContext&) {
    return "Wet test (spark ignition only): 15 ml of oil in each cylinder in question and the gauge again. A "
           "clear rise "
           "points "
           "to rings or bore; none points to valves or head gasket.";
}

std::string leak_down(const RuleContext&) {
    return "Leak-down test at TDC of compression with the crank held fast (the air can turn it): listen at "
           "intake, exhaust, oil filler "
           "and "
           "coolant for where the air goes.";
}

std::string gauge_all(const RuleContext& c) {
    if (c.layout.cylinders() == 1)
        return "A compression gauge, or a pressure transducer in the plug hole (evenstroke pressure), "
               "measures the one "
               "cylinder itself.";
    return "If it stays without a verdict: a compression gauge on every cylinder needs no recording at all.";
}

bool wants_name(const RuleContext& c) {
    return !c.reason && !suspects(c).empty() && !c.named() && c.verdicts.size() > 1;
}

bool wants_longer(const RuleContext& c) {
    return c.any(Verdict::unsure) || !c.maybe_weak().empty();
}

struct Reason {
    const char* code;
    bool (*applies)(const RuleContext&);
    std::string (*says)(const RuleContext&);
};

constexpr Reason rules[] = {
    {"repeat-capture", [](const RuleContext& c) { return c.reason && c.layout.cylinders() > 1; },
     repeat_capture},
    {"repeat-with-sync", wants_name, repeat_with_sync},
    {"repeat-longer", wants_longer, repeat_longer},
    {"repeat-same", [](const RuleContext& c) { return needs_proof(c) && !wants_longer(c); }, repeat_same},
    {"gauge-one",
     [](const RuleContext& c) { return !c.reason && !needs_proof(c) && !c.any(Verdict::unsure); }, gauge_one},
    {"gauge-dry", [](const RuleContext& c) { return !suspects(c).empty(); }, gauge_dry},
    {"wet-test", needs_proof, wet_test},
    {"leak-down", needs_proof, leak_down},
    {"gauge-all", [](const RuleContext& c) { return c.reason.has_value(); }, gauge_all},
};

}  // namespace

std::vector<NextTest> apply_test_rules(const RuleContext& c) {
    std::vector<NextTest> tests;
    for (const Reason& rule : rules)
        if (rule.applies(c)) tests.push_back({rule.code, rule.says(c)});
    return tests;
}

std::vector<std::string> cautions(std::span<const NextTest> tests) {
    std::vector<std::string> dangers{"fuel", "crank", "battery", "hot"};
    for (const auto& test : tests) {
        const bool air = test.code == "leak-down";
        const bool gauge =
            test.code.starts_with("gauge") || test.code == "wet-test" || test.code == "other-cylinder";
        if (air) dangers.insert(dangers.end(), {"air-pressure", "coolant"});
        if (air || gauge) dangers.emplace_back("plugs-out");
    }
    return test_cautions(dangers);
}

}  // namespace evenstroke::findings
