// Crank angle from a toothed wheel. Private to the library. Method: docs/wheel.md.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// The crank angle from the wheel that `trace` holds, or, when `trace` is of another quantity, from the
/// recording's wheel channel. A sync channel in `options` settles which half of the cycle it is.
/// Throws Error{bad_option} when no pattern is given and none can be recognised, Error{unusable} when the
/// recording holds no wheel.
[[nodiscard]] CrankAngle reference_by_wheel(const Recording& recording, const Trace& trace,
                                            const Cranking& cranking, const EngineLayout& layout,
                                            const ReferenceOptions& options);

}  // namespace evenstroke::angle
