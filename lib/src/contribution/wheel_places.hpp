// Where in the cycle the firing intervals begin, when the forward model is asked. Private.
#pragma once

#include <vector>

#include "wheel_fit.hpp"

namespace evenstroke::contribution::wheel {

/// The forward model fitted to `motion` from `from_s` on with position 0's TDC near each of `phases_deg`,
/// known within `phase_sd_deg`: likeliest first, each place of the intervals once. None where the cycles are
/// too few.
[[nodiscard]] std::vector<SpeedFit> fit_places(const WheelMotion& motion, const EngineLayout& layout,
                                               double from_s, const std::vector<double>& phases_deg,
                                               double phase_sd_deg);

}  // namespace evenstroke::contribution::wheel
