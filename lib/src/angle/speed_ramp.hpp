// A speed that rises or sinks evenly over a stretch of time. Private to the library.
#pragma once

#include <vector>

namespace evenstroke::angle {

/// Turns the stretch's time into steady time, in which the same turning has its mean speed throughout. Both
/// run from 0 to the duration.
struct SpeedRamp {
    double share = 0;  ///< by so much of the mean speed the last speed lies above it, and the first below
    double duration_s = 0;

    /// The time at which so much steady time has passed.
    [[nodiscard]] double time_s(double steady_s) const;
};

/// `values`, taken evenly in time over the ramp's duration, at as many places that are even in steady time.
[[nodiscard]] std::vector<float> steadied(const std::vector<float>& values, const SpeedRamp& ramp);

}  // namespace evenstroke::angle
