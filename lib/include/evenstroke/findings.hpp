// Judgement: a word for each cylinder, an outcome, the evidence, cautions, and the next test worth making.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/contribution.hpp"

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

struct FindingOptions {
    double weak_below_pct = 75;  ///< published rule: lowest at least 75 % of highest (references.md G)
};

struct Findings {
    std::vector<Verdict> verdicts;  ///< [cylinders] by position; empty when inconclusive
    Outcome outcome = Outcome::inconclusive;
    std::string headline;  ///< one sentence: the verdict
    std::vector<Finding> findings;
    std::vector<NextTest> next_tests;
    std::vector<std::string> cautions;
};

[[nodiscard]] Findings judge(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                             const Contribution& contribution, const EngineLayout& layout,
                             const FindingOptions& options = {});

}  // namespace evenstroke
