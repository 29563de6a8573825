// Contribution of each cylinder from the speed of a toothed wheel. Private to the library.
#pragma once

#include "evenstroke/contribution.hpp"

namespace evenstroke::contribution {

/// As estimate(), for a recording of a wheel: `angle` holds one knot a tooth. Speeds (events, mean and
/// model cycle) are in rpm; a compression's `peak` is the lowest speed, `trough` the highest before it.
/// Model and limits: docs/wheel.md.
[[nodiscard]] Contribution estimate_wheel(const Cranking& cranking, const CrankAngle& angle,
                                          const EngineLayout& layout);

}  // namespace evenstroke::contribution
