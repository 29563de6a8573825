// What a gauge with a check valve writes: puffs that climb by steps and are held, more or less.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::pressure {

struct Staircase {
    double start_kpa = 0;           ///< reading before the first puff
    std::vector<double> puffs_kpa;  ///< above `start_kpa`, each after its puff
    /// It stood for the time of three more compressions than were seen: full, or the crank had stopped.
    bool stood = false;
    double sag_ratio = 0;  ///< furthest that it sank from one puff to the next, as a share of the climb
};

/// The steps in readings at `rate_hz`, ascending; `puffs_kpa` is empty when the trace is no staircase that
/// climbs and holds.
[[nodiscard]] Staircase find_staircase(std::span<const float> kpa, double rate_hz);

/// The same of a gauge whose check valve leaks: it rises fast with each compression and sinks slowly until
/// the next, so its puffs are the tops and need not ascend. `puffs_kpa` is empty when the trace is none.
[[nodiscard]] Staircase find_sinking_staircase(std::span<const float> kpa, double rate_hz);

}  // namespace evenstroke::pressure
