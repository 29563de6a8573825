// What the pulses look like before any model: motored, fired, or of two cylinders; and which of them count.
#pragma once

#include "evenstroke/pressure.hpp"
#include "pulses.hpp"

namespace evenstroke::pressure {

/// Sets `kind`, and `inconclusive` with its reason when the pulses are not one cylinder's motored
/// compressions. Only pulses that the starter drove stay in `train`; what was left out is a notice, and
/// `driven_until_s` says where the driving ended.
void screen(PulseTrain& train, Pressure& result);

}  // namespace evenstroke::pressure
