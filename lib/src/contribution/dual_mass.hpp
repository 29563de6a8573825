// A dual-mass flywheel: its second mass swings on springs, and one of a single piece is a bad picture of it.
#pragma once

#include "evenstroke/error.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// `best`, whose flywheel is of one piece, or what is found from there with a dual-mass flywheel where that
/// is likelier by far. Errors of the model can look like such springs, so the limits then hold what either
/// gives, as they do where the second mass is likelier only; and cost and missed_rms stay those of one piece,
/// so that whatever doubts a fit, or chooses among several, is not appeased by the further unknowns. Tried on
/// a load of which `best` leaves something to explain, with no exhaust valve shut; what it hardly follows at
/// all, springs do not explain.
[[nodiscard]] FitResult or_with_dual_mass(const FitData& data, const EngineLayout& layout,
                                          const FitOptions& options, FoundFit best);

/// Says that the engine was taken to have such a flywheel.
[[nodiscard]] Notice dual_mass_notice();

}  // namespace evenstroke::contribution
