// What the pulses look like before any model: motored, fired, of two cylinders, or a gauge's staircase.
#pragma once

#include "evenstroke/pressure.hpp"
#include "pulses.hpp"

namespace evenstroke::pressure {

/// Sets `kind`, and `inconclusive` with its reason when the pulses are not one cylinder's motored
/// compressions. Fired pulses at the end are taken out of `train`.
void screen(PulseTrain& train, Pressure& result);

/// The steps of a gauge with a check valve, gauge kPa above the reading before the first; empty when the
/// trace is no staircase.
[[nodiscard]] std::vector<double> staircase(const Pressure& result);

}  // namespace evenstroke::pressure
