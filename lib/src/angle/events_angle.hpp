// Crank angle with no reference at all: from the compression events in the load itself.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// Finds the cycle by matching the load's spectrum with the lines that the layout's firing intervals make,
/// follows its phase through the recording, and puts position 0's TDC where a train of compressions fits the
/// mean cycle best.
[[nodiscard]] CrankAngle reference_by_events(const Trace& trace, const Cranking& cranking,
                                             const EngineLayout& layout);

}  // namespace evenstroke::angle
