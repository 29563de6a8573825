// Judgement: a word for each cylinder, an outcome, the evidence, cautions, and the next test worth making.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/contribution.hpp"
#include "evenstroke/pressure.hpp"

namespace evenstroke {

enum class Verdict { even, low, weak, unsure };
enum class Outcome { even, weak, inconclusive };

[[nodiscard]] const char* name(Verdict verdict);
[[nodiscard]] const char* name(Outcome outcome);

struct Finding {
    std::string code;
    std::string text;
    std::vector<std::string> evidence;
};

struct NextTest {
    std::string code;
    std::string text;
};

/// What every judgement says beside its outcome and its findings, whatever was judged.
struct Judgement {
    std::string headline;                   ///< one sentence: the verdict, or "No verdict: " and the reason
    std::optional<std::string> no_verdict;  ///< that reason alone; empty with a verdict
    std::vector<NextTest> next_tests;       ///< cheapest first
    std::vector<std::string> cautions;      ///< what can hurt someone in them
};

/// Makers print that the lowest cylinder should reach at least 75 % of the highest (references.md G).
inline constexpr double usual_weak_below_pct = 75;

struct FindingOptions {
    double weak_below_pct = usual_weak_below_pct;  ///< of the highest, above 0 and below 100
};

struct Findings : Judgement {
    std::vector<Verdict> verdicts;  ///< [cylinders] by position; empty where nothing could be told
    Outcome outcome = Outcome::inconclusive;
    double weak_below_pct = usual_weak_below_pct;  ///< the limit that was used
    std::vector<Finding> findings;
};

/// Why no stage up to the contribution could tell anything; empty when there is something to judge.
[[nodiscard]] std::optional<std::string> why_not(const Cranking& cranking, const CrankAngle& angle,
                                                 const Contribution& contribution);

/// A word for each cylinder (docs/output.md, "Verdicts"), the outcome, and what to do next. Never throws.
/// `inconclusive` when a stage could not tell, or a cylinder is unsure and none is weak.
[[nodiscard]] Findings judge(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                             const Contribution& contribution, const EngineLayout& layout,
                             const FindingOptions& options = {});

/// What one cylinder's own pressure says of it (docs/pressure.md, "Verdicts").
/// `low_compression`: too little to run on, from a leak or from a charge that never came in.
enum class PressureVerdict {
    sealing,
    leaking,
    low_charge,
    low_compression,
    late_valves,
    early_valves,
    inconclusive
};

/// In the JSON's words: "sealing", "leaking", "low charge", "low compression", "late valves", "early valves",
/// "inconclusive".
[[nodiscard]] const char* name(PressureVerdict verdict);

struct PressureFindings : Judgement {
    PressureVerdict outcome = PressureVerdict::inconclusive;
    std::vector<Finding> findings;
};

/// Judges a measured pressure. `options` are those of the measurement: what valve timing is expected. Never
/// throws.
[[nodiscard]] PressureFindings judge_pressure(const Pressure& pressure, const PressureOptions& options = {});

}  // namespace evenstroke
