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

}  // namespace evenstroke::contribution
