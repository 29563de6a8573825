// What the rules of one cranked engine look at.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/findings.hpp"
#include "values/notices.hpp"

namespace evenstroke::findings {

/// Everything that a rule may ask. References outlive it.
struct RuleContext {
    const Trace& trace;
    const Cranking& cranking;
    const CrankAngle& angle;
    const Contribution& contribution;
    const EngineLayout& layout;
    const FindingOptions& options;
    std::vector<CylinderName> names;    ///< [cylinders] by position
    std::vector<Verdict> verdicts;      ///< [cylinders] by position; empty when a stage could not tell
    std::optional<std::string> reason;  ///< why a stage could not tell

    /// Positions that got this word, ascending.
    [[nodiscard]] std::vector<std::size_t> with(Verdict verdict) const;
    [[nodiscard]] bool any(Verdict verdict) const { return !with(verdict).empty(); }
    /// Positions that are low and whose interval reaches below the limit of weak, ascending.
    [[nodiscard]] std::vector<std::size_t> maybe_weak() const;
    /// Position of the highest contribution; empty when none is known.
    [[nodiscard]] std::optional<std::size_t> highest() const;
    [[nodiscard]] std::optional<std::size_t> lowest() const;
    [[nodiscard]] bool named() const { return !names.empty() && names.front().cylinder.has_value(); }
};

/// "48 % of the highest (44 to 52 %)".
[[nodiscard]] std::string measured(const CylinderContribution& cylinder);
/// "cylinder 3", "cylinders 3 and 5", "positions 1, 2 and 4".
[[nodiscard]] std::string list(const RuleContext& c, const std::vector<std::size_t>& positions);

// The rules of rules.cpp and next_tests.cpp, applied.

/// One sentence: the verdict.
[[nodiscard]] std::string headline(const RuleContext& c, Outcome outcome);
/// Why there is none.
[[nodiscard]] std::string no_verdict(const RuleContext& c);
[[nodiscard]] std::vector<Finding> apply_finding_rules(const RuleContext& c);
[[nodiscard]] std::vector<NextTest> apply_test_rules(const RuleContext& c);

}  // namespace evenstroke::findings
