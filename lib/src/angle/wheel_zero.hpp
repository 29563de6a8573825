// Where the wheel's angle is zero: which half of the cycle, and TDC. Private to the library.
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// Settles half cycle and TDC as far as the user's words and the sync channel allow.
void place_zero(const Recording& recording, const WheelPattern& pattern, const ReferenceOptions& options,
                CrankAngle& angle);

}  // namespace evenstroke::angle
