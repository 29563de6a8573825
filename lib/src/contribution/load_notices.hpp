// What a reader of a load's contributions must know besides them. Private to the library.
#pragma once

#include "evenstroke/contribution.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// Says when a third of the cycles or more was of no use.
void say_cycles_left_out(Contribution& out, int recorded);

/// Says where the humps of the trace would mislead, and why.
void compare_with_humps(Contribution& out, const FitResult& fit, const CrankAngle& angle,
                        const EngineLayout& layout);

/// A flywheel on springs swings back after each compression, and every swing looks like one of half the
/// engine's speed. Only a mark tells.
[[nodiscard]] Notice counted_twice_notice(double speed_rpm);

}  // namespace evenstroke::contribution
