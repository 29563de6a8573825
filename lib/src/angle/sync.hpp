// Crank angle from a channel that marks the cycle.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// Leading edges of a mark channel, seconds, ascending: the edges into the level it spends less time at,
/// bounce removed. Throws Error{unusable} when the channel never changes.
[[nodiscard]] std::vector<double> leading_edges_s(const Recording& recording, const Channel& channel);

/// Knots at the marks: 720 degrees apart, or 360 when the load shows that the mark comes once a turn.
[[nodiscard]] CrankAngle by_sync(const Recording& recording, const Trace& trace, const Cranking& cranking,
                                 const EngineLayout& layout, const ReferenceOptions& options);

}  // namespace evenstroke::angle
