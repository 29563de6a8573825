// Does a wheel's mark come once a turn of the crank? Private to the library. Method: docs/wheel.md.
#pragma once

#include "angle/wheel.hpp"

namespace evenstroke {

// A wheel whose mark comes twice or three times a turn looks like one with fewer teeth that turns so much
// faster (36-2-2 like 18-2), one on the cam like one that turns at half the speed. The edges do not tell; the
// ripple of the compressions does, of `cylinders` that fire evenly. A speed at which no starter turns an
// engine is ruled out.

/// Whether the ripple shows that what `teeth` count as a turn is one of the crank. Never without the number
/// of cylinders (0).
[[nodiscard]] bool turns_once(const WheelTeeth& teeth, int cylinders);

/// Whether the ripple shows that it is not. Dead cylinders may leave both this and turns_once() false.
/// A wheel on which `pattern` returns twice or three times a turn counts only if such are made.
[[nodiscard]] bool turns_otherwise(const WheelTeeth& teeth, const WheelPattern& pattern, int cylinders);

}  // namespace evenstroke
