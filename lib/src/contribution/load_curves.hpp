// What is plotted of a fitted load: its mean cycle, the model's, and the crank angle. Private to the library.
#pragma once

#include "cycle_angle.hpp"
#include "evenstroke/contribution.hpp"
#include "fit.hpp"
#include "load_samples.hpp"

namespace evenstroke::contribution {

/// The folded trace and the model at whole crank degrees, in the trace's own unit.
void add_cycles(Contribution& out, const Load& load, const CycleAverage& average, const FitResult& fit,
                const CycleAngle& within);

/// The crank angle at steps of the usable part, turned as unevenly as the model turns it.
void add_knots(Contribution& out, const PhaseMap& phases, const FitResult& fit, const CycleAngle& within,
               double from_s, double to_s);

}  // namespace evenstroke::contribution
