// What a reader of a load's contributions must know besides them. Private to the library.
#pragma once

#include <string>

#include "cycle_average.hpp"
#include "evenstroke/contribution.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// Says when a third of the cycles or more was of no use.
void say_cycles_left_out(Contribution& out, int recorded);

/// Says when the converter's steps are coarse beside what the compressions make of the load.
void say_coarse_steps(Contribution& out, const LoadSamples& samples, const CycleAverage& average,
                      const std::string& unit);

/// Says where the humps of the trace would mislead, and why.
void compare_with_humps(Contribution& out, const FitResult& fit, const CrankAngle& angle,
                        const EngineLayout& layout);

/// A flywheel on springs swings back after each compression, and every swing looks like one of half the
/// engine's speed. Only a mark tells.
[[nodiscard]] Notice counted_twice_notice(double speed_rpm);

}  // namespace evenstroke::contribution
