// Crank angle over the whole recording, and the mean cycle on it.
#pragma once

#include "evenstroke/pressure.hpp"
#include "solve.hpp"

namespace evenstroke::pressure {

/// Knots: every step of every fitted pulse, and between pulses an angle that meets both sides' speed.
void set_angle(const Solution& solution, Pressure& result);

/// Crank angle at `time_s`; empty outside the knots.
[[nodiscard]] std::optional<double> angle_at(const Pressure& result, double time_s);

/// Mean pressure a degree over the used pulses' cycles, sensor offset taken off, with the volume.
void set_mean_cycle(const Solution& solution, double offset_kpa, Pressure& result);

/// Mean pressure `deg` after firing TDC, -360 to 359; empty where no sample fell.
[[nodiscard]] std::optional<double> mean_at(const Pressure& result, int deg);

}  // namespace evenstroke::pressure
