// Contribution of each cylinder from a starter's load, current or voltage. Private to the library.
#pragma once

#include "evenstroke/contribution.hpp"

namespace evenstroke::contribution {

/// As estimate(), for a current or a voltage. Model and limits: docs/method.md.
[[nodiscard]] Contribution estimate_load(const Trace& trace, const Cranking& cranking,
                                         const CrankAngle& angle, const EngineLayout& layout);

}  // namespace evenstroke::contribution
