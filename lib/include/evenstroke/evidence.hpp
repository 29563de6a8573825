// All that is known about one engine: what recordings showed, and what was measured by hand.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/findings.hpp"
#include "evenstroke/worksheet.hpp"

namespace evenstroke {

/// One cylinder as one recording shows it.
struct RecordedCylinder {
    std::optional<int> cylinder;             ///< empty when the recording does not name it
    std::vector<int> possible;               ///< the two candidates when the mark comes every 360 degrees
    std::optional<int> half_turn_on;         ///< the cylinder that fires 360 degrees later
    std::string label;                       ///< "cylinder 3", "position 2"
    std::optional<Figure> contribution_pct;  ///< empty when the recording cannot tell
    Verdict verdict = Verdict::unsure;
    std::optional<LossKind> loss;  ///< empty when the recording cannot tell
};

/// One recording.
struct RecordedEngine {
    std::string path;
    Outcome outcome = Outcome::inconclusive;
    std::string headline;
    std::optional<std::string> no_verdict;         ///< the reason why it has none
    double weak_below_pct = usual_weak_below_pct;  ///< the limit that it was judged by
    std::vector<RecordedCylinder> cylinders;       ///< by position; empty where nothing could be told
    Quantity quantity = Quantity::unknown;
    std::optional<double> speed_rpm;   ///< mean of the settled cranking
    std::optional<double> resting_v;   ///< battery before cranking
    std::optional<double> cranking_v;  ///< battery, mean of the settled cranking
};

/// Battery voltage before and during cranking.
struct BatteryLevels {
    std::string channel;  ///< empty when there is none
    std::optional<double> resting_v;
    std::optional<double> cranking_v;
};

struct Evidence {
    Worksheet sheet;
    std::vector<RecordedEngine> recordings;
};

/// What one analysed recording says. `battery` fills in what the analysed channel does not tell.
[[nodiscard]] RecordedEngine recorded_engine(const std::string& path, const Trace& trace,
                                             const Cranking& cranking, const CrankAngle& angle,
                                             const Contribution& contribution, const EngineLayout& layout,
                                             const Findings& findings, const BatteryLevels& battery = {});

/// The battery beside a current or a wheel: of the channels in volts that rest and sag like one, the one that
/// sags most; empty without any.
[[nodiscard]] BatteryLevels battery_levels(const Recording& recording, const Cranking& cranking);

}  // namespace evenstroke
