// A loss that repeats around the cycle: more often timing or the measuring chain than three alike faults.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "evenstroke/error.hpp"

namespace evenstroke::contribution {

/// The period (in positions) of a pattern that repeats at least three times around the cycle, explains nearly
/// all of the difference between cylinders and is at least `least_points` deep; empty when there is none.
/// Cylinders that hold next to nothing are no part of it.
[[nodiscard]] std::optional<int> repeating_pattern(const Eigen::ArrayXd& contribution_pct,
                                                   double least_points = 6);

/// Opens to 100 % the intervals of the cylinders that are part of it.
void spare_pattern(const Eigen::ArrayXd& contribution_pct, Eigen::ArrayXd& high_pct);

/// Says so. Timing of the reference, valve timing of one bank and the chain's delay look like this too, so no
/// cylinder is to be condemned on it.
[[nodiscard]] Notice repeating_notice(int period);

}  // namespace evenstroke::contribution
