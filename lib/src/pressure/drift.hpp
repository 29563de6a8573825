// A sensor whose zero moves while it records, as one does that warms up.
#pragma once

#include "evenstroke/pressure.hpp"
#include "pulses.hpp"

namespace evenstroke::pressure {

/// Takes off the drift that the exhaust strokes between the pulses show, and names it; whether there was any.
/// The readings' middle level stays.
bool take_drift_off(Pressure& p, const PulseTrain& train);

}  // namespace evenstroke::pressure
