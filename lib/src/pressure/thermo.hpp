// What the mean cycle says: exponents, valve events, plateaux, trapped charge.
#pragma once

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Slope of log p over log V between two angles of the mean cycle, sign turned; with the interval that the
/// scatter about the line and an offset known to `offset_sd_kpa` leave.
[[nodiscard]] std::optional<Figure> exponent(const Pressure& result, double first_deg, double last_deg,
                                             double offset_sd_kpa);

/// Sets plateaux, intake closing and exhaust opening from the mean cycle. `closed_kpa`: [0 … 180] degrees
/// after TDC, what the model gives with all valves closed.
void set_valves(Pressure& result, const std::vector<double>& closed_kpa);

}  // namespace evenstroke::pressure
