// The level changes of a wheel trace, whichever way it was recorded. Private to the library.
#pragma once

#include <span>
#include <vector>

#include "evenstroke/trace.hpp"

namespace evenstroke {

/// Level changes of `trace`: its edges without bounce, or the crossings of its sampled values. Ascending.
[[nodiscard]] std::vector<Edge> wheel_edges(const Trace& trace);

/// The same, without copying a long list that needs no cleaning: what is returned lies in `trace` or in
/// `room`.
[[nodiscard]] std::span<const Edge> wheel_edges(const Trace& trace, std::vector<Edge>& room);

/// The same for a channel of `recording`.
[[nodiscard]] std::vector<Edge> wheel_edges(const Recording& recording, const Channel& channel);

}  // namespace evenstroke
