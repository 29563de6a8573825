// Where a wheel is being cranked. Private to the library.
#pragma once

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

/// As locate(), for a wheel: start is the first tooth, settled where the rate of teeth stops rising, the end
/// the last tooth, the last slow phase before the engine runs away, or where the starter lets go. The wheel's
/// pattern need not be known: rates are counted over many teeth.
[[nodiscard]] Cranking locate_wheel(const Trace& trace, const LocateOptions& options = {});

}  // namespace evenstroke::cranking
