// Whether an uneven twin's load was read at twice its speed. Private to the library.
#pragma once

#include "cycle_average.hpp"
#include "evenstroke/angle.hpp"
#include "fit.hpp"
#include "interval.hpp"

namespace evenstroke::contribution {

/// Without a reference, two unlike compressions 450 and 270 degrees apart look like four that come twice as
/// often, of which every other one is weak. True where an engine of half the speed makes the `samples` in
/// [from_s, to_s] about as well as `fit` does at the speed of `phases`.
[[nodiscard]] bool half_speed_fits(const LoadSamples& samples, const PhaseMap& phases, double from_s,
                                   double to_s, FitData data, const EngineLayout& layout,
                                   const FitResult& fit);

/// Whether it is to be asked: an uneven twin without a reference, in which a cylinder may be condemned.
[[nodiscard]] bool may_be_half_speed(const CrankAngle& angle, const EngineLayout& layout,
                                     const Contributions& found);

[[nodiscard]] Notice half_speed_notice(double speed_rpm);

}  // namespace evenstroke::contribution
