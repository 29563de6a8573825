// Which of the recorded cycles are alike: the engine is still speeding up in the first, and may fire in the
// last.
#pragma once

#include "cycle_average.hpp"

namespace evenstroke::contribution {

/// Whole cycles [first, last) of a folded recording that belong together.
struct CycleRange {
    int first = 0;
    int last = 0;
};

/// Drops cycles from both ends while their load, shape or period departs from that of the later middle by
/// more than cycles there depart from each other; keeps at least two, and half of them.
[[nodiscard]] CycleRange alike(const CycleAverage& average);

/// Fewer cycles than this cannot tell a cylinder from a chance.
inline constexpr double fewest_cycles = 1.5;

/// The cycles that are alike, folded, and the stretch that they lie in.
struct AlikeCycles {
    CycleAverage average;
    double from_s = 0, to_s = 0;
};

/// Folds the samples in [from_s, to_s], and again without the cycles that depart.
[[nodiscard]] AlikeCycles fold_alike(const LoadSamples& samples, const PhaseMap& phases, double from_s,
                                     double to_s);

}  // namespace evenstroke::contribution
