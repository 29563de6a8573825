// Where a starter's load, current or voltage, shows cranking. Private to the library.
#pragma once

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

/// As locate(), for a current or a voltage.
[[nodiscard]] Cranking locate_load(const Trace& trace, const LocateOptions& options = {});

}  // namespace evenstroke::cranking
