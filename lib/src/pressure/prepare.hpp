// The channel that holds the pressure: chosen, in kPa, upright, with its faults named.
#pragma once

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Fills channel, unit, rate, start, readings, gaps, zero and ambient of a result, and all that is to be
/// known of a gauge's staircase (`kind` says so). Throws as measure_pressure does.
[[nodiscard]] Pressure prepare(const Recording& recording, const PressureOptions& options);

}  // namespace evenstroke::pressure
