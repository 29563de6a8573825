// Is the speed one at which a starter turns an engine?
#pragma once

#include "evenstroke/angle.hpp"

namespace evenstroke {

/// Says when a reference of the recording gives a speed that is unusual for a starter: the time base may be
/// wrong. (Without a reference the number of cylinders may be, and reference_by_events() says that.)
/// Throws Error{unusable} when a sync's marks are too quick for any cranking.
void check_speed(const Recording& recording, CrankAngle& angle);

}  // namespace evenstroke
