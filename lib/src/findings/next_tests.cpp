// What to test next, cheapest first, one rule a row.
#include "rule_context.hpp"
#include "test_table.hpp"

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

bool can_name(const RuleContext& c) {
    return !c.names.empty() && (c.named() || !c.names.front().possible.empty());
}

/// Where a gauge would go: a named cylinder, or what the position turns out to be.
std::string suspects_named(const RuleContext& c) {
    const auto positions = suspects(c);
    if (can_name(c)) return list(c, positions);
    return positions.size() == 1 ? "the cylinder in question, once it is named,"
                                 : "the cylinders in question, once they are named,";
}

/// The one that is made on a cylinder for itself.
NextTest on_each_suspect(const RuleContext& c, const char* key) {
    const auto positions = suspects(c);
    if (!can_name(c)) return suggested(key, {.who = "each cylinder in question"});
    return suggested(key, {.who = (positions.size() > 1 ? "each of " : "") + list(c, positions)});
}

/// Whether a name takes a new recording, with another sync; else an option is all that lacks.
bool name_takes_recording(const RuleContext& c) {
    const bool by_wheel = c.angle.kind == ReferenceKind::wheel && !c.angle.sync_channel.empty();
    return (c.angle.kind != ReferenceKind::none && c.angle.once_per_turn) ||
           (!has_notice(c.angle.notices, "sync-unused") && c.angle.kind != ReferenceKind::sync && !by_wheel);
}

NextTest repeat_with_sync(const RuleContext& c) {
    if (name_takes_recording(c)) return suggested("repeat-with-sync");
    if (has_notice(c.angle.notices, "sync-unused")) return suggested("repeat-with-sync/unused");
    const bool lead_known = !has_notice(c.contribution.notices, "phase-from-compression");
    const bool by_wheel = c.angle.kind == ReferenceKind::wheel && !c.angle.sync_channel.empty();
    if ((c.angle.kind == ReferenceKind::sync || (by_wheel && lead_known)) && c.layout.order.empty())
        return suggested("repeat-with-sync/order");
    return suggested("repeat-with-sync/lead", {.who = c.angle.sync_channel});
}

NextTest gauge_dry(const RuleContext& c) {
    if (suspects(c).size() == c.verdicts.size()) return suggested("gauge-dry");
    return suggested("gauge-dry/some", {.who = suspects_named(c)});
}

bool wants_name(const RuleContext& c) {
    return !c.reason && !suspects(c).empty() && !c.named() && c.verdicts.size() > 1;
}

bool wants_lift(const RuleContext& c) {
    return c.contribution.exhaust_shut.has_value();
}

bool wants_longer(const RuleContext& c) {
    const bool longer_tells = !wants_lift(c) && !has_notice(c.contribution.notices, "lone-compression");
    return longer_tells && (c.any(Verdict::unsure) || !c.maybe_weak().empty());
}

struct TestRule {
    bool (*applies)(const RuleContext&);
    NextTest (*test)(const RuleContext&);
};

constexpr TestRule rules[] = {
    {[](const RuleContext& c) { return c.reason && c.layout.cylinders() > 1; },
     [](const RuleContext&) { return suggested("repeat-capture"); }},
    {wants_name, repeat_with_sync},
    {wants_lift,
     [](const RuleContext& c) {
         return suggested("valve-lift", {.who = list(c, {c.contribution.exhaust_shut->position})});
     }},
    {wants_longer,
     [](const RuleContext& c) {
         return suggested(has_notice(c.contribution.notices, "poor-fit") ? "repeat-longer/layout"
                                                                         : "repeat-longer");
     }},
    // A recording for the name shows also whether the weakness comes back.
    {[](const RuleContext& c) {
         return needs_proof(c) && !wants_longer(c) && !(wants_name(c) && name_takes_recording(c));
     },
     [](const RuleContext& c) {
         return suggested(c.angle.kind == ReferenceKind::none ? "repeat-same/unnamed" : "repeat-same");
     }},
    {[](const RuleContext& c) { return !c.reason && !needs_proof(c) && !c.any(Verdict::unsure); },
     [](const RuleContext&) { return suggested("gauge-one"); }},
    {[](const RuleContext& c) { return !suspects(c).empty(); }, gauge_dry},
    {needs_proof, [](const RuleContext& c) { return on_each_suspect(c, "wet-test"); }},
    {needs_proof, [](const RuleContext& c) { return on_each_suspect(c, "leak-down"); }},
    {[](const RuleContext& c) { return c.reason.has_value(); },
     [](const RuleContext& c) {
         return suggested(c.layout.cylinders() == 1 ? "gauge-all/single" : "gauge-all");
     }},
};

}  // namespace

std::vector<NextTest> apply_test_rules(const RuleContext& c) {
    std::vector<NextTest> tests;
    for (const TestRule& rule : rules)
        if (rule.applies(c)) tests.push_back(rule.test(c));
    return tests;
}

}  // namespace evenstroke::findings
