// The channel that holds the pressure: chosen, in kPa, upright, with its faults named.
#pragma once

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Fills channel, unit, rate, start, readings, zero and ambient of a result. Throws as measure_pressure does.
[[nodiscard]] Pressure prepare(const Recording& recording, const PressureOptions& options);

}  // namespace evenstroke::pressure
