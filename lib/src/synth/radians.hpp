// Radians for the degrees that an engine is described in.
#pragma once

#include "evenstroke/engine.hpp"

namespace evenstroke::synth {

inline constexpr double rad_per_deg = pi / 180;

}  // namespace evenstroke::synth
