// Crank angle for a starter's load, current or voltage. Private to the library.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// As reference(), for a current or a voltage: by the wheel or the sync that `options` name, else by the
/// compression events.
[[nodiscard]] CrankAngle reference_load(const Recording& recording, const Trace& trace,
                                        const Cranking& cranking, const EngineLayout& layout,
                                        const ReferenceOptions& options);

}  // namespace evenstroke::angle
