// What a reader of a wheel's contributions must know besides them. Private to the library.
#pragma once

#include <cstddef>
#include <vector>

#include "evenstroke/angle.hpp"
#include "wheel_model.hpp"

namespace evenstroke::contribution::wheel {

/// A wheel whose teeth repeat with the compressions hides its own errors in them.
[[nodiscard]] bool form_repeats_with_firing(const WheelMotion& motion);
[[nodiscard]] Notice tooth_form();

/// Positions whose compression comes where the wheel has a gap that is wide beside the firing intervals, the
/// shortest of them `shortest_deg`: what is seen of it before and after hardly tells a leak from none.
[[nodiscard]] std::vector<std::size_t> hidden_by_gap(const WheelMotion& motion, double phase_deg,
                                                     double shortest_deg);
[[nodiscard]] Notice gap_hides(const std::vector<std::size_t>& positions);

/// That the intervals fit in two places.
[[nodiscard]] Notice fits_twice();

/// The crank turns unlike a crank and starter alone.
[[nodiscard]] Notice not_followed_notice();

/// That TDC was found by the search.
[[nodiscard]] Notice phase_found(const CrankAngle& angle, const EngineLayout& layout);

}  // namespace evenstroke::contribution::wheel
