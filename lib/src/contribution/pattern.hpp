// A loss that repeats around the cycle: more often timing or the measuring chain than three alike faults.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "evenstroke/error.hpp"

namespace evenstroke::contribution {

/// Which cylinders are part of a pattern, by position.
using PatternPart = Eigen::Array<bool, Eigen::Dynamic, 1>;

struct RepeatingPattern {
    int period = 0;    ///< in positions
    PatternPart part;  ///< all of them, or all but those that have lost something of their own besides
};

/// A pattern that repeats at least three times around the cycle, explains nearly all of the difference
/// between the cylinders that are part of it and is at least `least_points` deep; empty when there is none.
[[nodiscard]] std::optional<RepeatingPattern> repeating_pattern(const Eigen::ArrayXd& contribution_pct,
                                                                double least_points = 6);

/// Opens to 100 % the intervals of the cylinders that are part of it.
void spare_pattern(const RepeatingPattern& pattern, Eigen::ArrayXd& high_pct);

/// Says so. Timing of the reference, valve timing of one bank and the chain's delay look like this too, so no
/// cylinder is to be condemned on it.
[[nodiscard]] Notice repeating_notice(int period);

}  // namespace evenstroke::contribution
