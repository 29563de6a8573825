// Crank angle from a channel that marks the cycle. Private to the library.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// Knots at the marks: 720 degrees apart, or 360 when the load shows that the mark comes once a turn.
[[nodiscard]] CrankAngle reference_by_sync(const Recording& recording, const Trace& trace,
                                           const Cranking& cranking, const EngineLayout& layout,
                                           const ReferenceOptions& options);

}  // namespace evenstroke::angle
