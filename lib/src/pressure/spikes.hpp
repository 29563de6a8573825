// Spikes of a pressure trace: told from the compressions' own tops where the readings are few.
#pragma once

#include <cstddef>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Bridges spikes of up to three readings; returns how many. A compression of which only a few readings make
/// the top is none.
std::size_t bridge_spikes(Pressure& p);

}  // namespace evenstroke::pressure
