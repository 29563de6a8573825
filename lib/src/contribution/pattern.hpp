// A loss that repeats around the cycle: more often timing or the measuring chain than three alike faults.
#pragma once

#include <Eigen/Core>
#include <optional>

namespace evenstroke::contribution {

/// The period (in positions) of a pattern that repeats at least three times around the cycle, explains nearly
/// all of the difference between cylinders and is at least `least_points` deep; empty when there is none.
[[nodiscard]] std::optional<int> repeating_pattern(const Eigen::ArrayXd& contribution_pct,
                                                   double least_points = 6);

}  // namespace evenstroke::contribution
