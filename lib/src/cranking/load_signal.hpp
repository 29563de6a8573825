// What current and voltage have in common: a load that is nothing at rest and rises as the engine is harder
// to turn.
#pragma once

#include <vector>

#include "evenstroke/trace.hpp"

namespace evenstroke::cranking {

/// The trace as a load: current as it is; voltage as its dip below rest. Same length as trace.values.
struct LoadSignal {
    std::vector<float> values;
    double resting_v = 0;       ///< level taken as rest; voltage only
    bool resting_known = true;  ///< false: no rest was recorded, and the highest voltage stands for it
};

/// `trace` is a sampled current or voltage with at least one sample.
[[nodiscard]] LoadSignal load_signal(const Trace& trace);

}  // namespace evenstroke::cranking
