#include "evenstroke/findings.hpp"

#include <algorithm>

#include "rule_context.hpp"
#include "sentences.hpp"
#include "test_table.hpp"
#include "verdicts.hpp"

namespace evenstroke {

const char* name(Verdict verdict) {
    switch (verdict) {
        case Verdict::even:
            return "even";
        case Verdict::low:
            return "low";
        case Verdict::weak:
            return "weak";
        case Verdict::unsure:
            break;
    }
    return "unsure";
}

const char* name(Outcome outcome) {
    switch (outcome) {
        case Outcome::even:
            return "even";
        case Outcome::weak:
            return "weak";
        case Outcome::inconclusive:
            break;
    }
    return "inconclusive";
}

namespace {

Outcome outcome_of(const findings::RuleContext& c) {
    if (c.reason) return Outcome::inconclusive;
    if (c.any(Verdict::weak)) return Outcome::weak;
    return c.any(Verdict::unsure) || !c.maybe_weak().empty() ? Outcome::inconclusive : Outcome::even;
}

}  // namespace

std::optional<std::string> why_not(const Cranking& cranking, const CrankAngle& angle,
                                   const Contribution& contribution) {
    if (cranking.no_cranking) return cranking.no_cranking;
    if (angle.no_reference) return angle.no_reference;
    if (contribution.inconclusive) return contribution.inconclusive;
    if (contribution.cylinders.empty()) return "no compression was measured";
    if (contribution.cylinders.size() == 1)
        return "one cylinder has no other to be compared with; a compression gauge can tell";
    return std::nullopt;
}

Findings judge(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
               const Contribution& contribution, const EngineLayout& layout, const FindingOptions& options) {
    findings::RuleContext c{.trace = trace,
                            .cranking = cranking,
                            .angle = angle,
                            .contribution = contribution,
                            .layout = layout,
                            .options = options,
                            .names = cylinder_names(angle, layout),
                            .verdicts = {},
                            .reason = why_not(cranking, angle, contribution)};
    if (!c.reason) c.verdicts = findings::verdicts(contribution.cylinders, options.weak_below_pct);

    Findings result;
    result.verdicts = c.verdicts;
    result.outcome = outcome_of(c);
    result.weak_below_pct = options.weak_below_pct;
    if (result.outcome == Outcome::inconclusive)
        findings::leave_open(result, findings::no_verdict(c));
    else
        result.headline = findings::headline(c, result.outcome);
    result.findings = findings::apply_finding_rules(c);
    result.next_tests = findings::apply_test_rules(c);
    result.cautions = findings::cautions_of(result.next_tests, findings::cranking_dangers());
    return result;
}

}  // namespace evenstroke
