// What a gauge with a check valve writes: puffs that climb by steps and are held.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::pressure {

struct Staircase {
    double start_kpa = 0;           ///< reading before the first puff
    std::vector<double> puffs_kpa;  ///< above `start_kpa`, each after its puff, ascending
};

/// The steps in readings at `rate_hz`; `puffs_kpa` is empty when the trace is no staircase that climbs.
[[nodiscard]] Staircase find_staircase(std::span<const float> kpa, double rate_hz);

}  // namespace evenstroke::pressure
