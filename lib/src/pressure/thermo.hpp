// What the mean cycle says of the gas: exponents.
#pragma once

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Slope of log p over log V between two angles of the mean cycle, sign turned; with the interval that the
/// scatter about the line and an offset known to `offset_sd_kpa` leave.
[[nodiscard]] std::optional<Figure> exponent(const Pressure& result, double first_deg, double last_deg,
                                             double offset_sd_kpa);

}  // namespace evenstroke::pressure
