// Two recordings of one engine: what changed for each cylinder, and whether it is more than chance.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/evidence.hpp"

namespace evenstroke {

/// What was done between the recordings, as far as the user says.
enum class Between { not_said, oil, warming, repair, time };
[[nodiscard]] const char* name(Between between);

/// One side of the comparison.
struct ComparedRecording {
    RecordedEngine engine;
    /// [cycles][positions]; empty where a cycle has no usable event.
    std::vector<std::vector<std::optional<double>>> by_cycle_pct;
    bool anchored = false;  ///< a mark tells which position is which cylinder's, cycle by cycle
};

/// One analysed recording as a side of a comparison. `engine`: what it says of itself (recorded_engine). The
/// cycles are those of `contribution` as they are: [cycles][positions] from the reference cylinder on,
/// percent of the highest cylinder's peak; none where nothing was measured. `angle` anchors the side when its
/// mark comes once in two turns and is placed to within half the shortest interval of `layout`, crank
/// degrees. Never throws: compare() says why a side cannot be compared.
[[nodiscard]] ComparedRecording compared_recording(RecordedEngine engine, const CrankAngle& angle,
                                                   const EngineLayout& layout,
                                                   const Contribution& contribution);

/// One cylinder's change, in points: percent of the highest cylinder of the first recording.
struct Change {
    std::string label;
    std::optional<int> cylinder;
    bool reference = false;            ///< what the others are measured by; not tested when it is alone
    std::optional<double> first_pct;   ///< mean over cycles
    std::optional<double> second_pct;  ///< the same, on the first recording's scale
    std::optional<Figure>
        change_pct;                 ///< 95 % interval; wider than Welch's by what differs between recordings
    std::optional<double> t_ratio;  ///< Welch
    std::optional<double> degrees;  ///< of freedom, Welch-Satterthwaite
    std::optional<double> p;        ///< two-sided
    std::optional<double> p_corrected;  ///< Holm, for the cylinders tested
    bool beyond_chance = false;
    int first_cycles = 0;
    int second_cycles = 0;
};

enum class CompareOutcome { changed, unchanged, inconclusive };
[[nodiscard]] const char* name(CompareOutcome outcome);

struct Comparison : Judgement {
    CompareOutcome outcome = CompareOutcome::inconclusive;
    Between between = Between::not_said;
    std::vector<Change> changes;  ///< by position; empty when nothing can be compared
    std::vector<Finding> findings;
    std::vector<Notice> confounders;  ///< what else differed, and may have made the change
};

/// Welch's test a cylinder over single cycles, after both recordings were put on one scale by the cylinders
/// that agree best (docs/diagnosis.md). Never throws; `inconclusive` with its reason in the headline.
[[nodiscard]] Comparison compare(const ComparedRecording& first, const ComparedRecording& second,
                                 Between between = Between::not_said);

}  // namespace evenstroke
