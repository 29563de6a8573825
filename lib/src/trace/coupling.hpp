// Whether a current or a battery's voltage lost its zero on the way: AC coupling of the input, or a clamp
// that measures AC only.
#pragma once

#include <span>

namespace evenstroke::trace {

/// What is left of the zero.
struct Coupling {
    bool zero_lost = false;
    double sign = 1;   ///< that turns the trace upright; only when the zero is lost
    double level = 0;  ///< before the inrush (0 when that is not seen); only when the zero is lost
};

/// A starter never drives current back, so a load that swings below its rest while cranking, or that sags and
/// then undershoots on release by as much, has lost its zero. A corner so low that the recording ends before
/// the release cannot be seen. `values` at `rate_hz`, in any unit.
[[nodiscard]] Coupling find_coupling(std::span<const float> values, double rate_hz);

/// The same of a battery's voltage, whose level lies further from zero than it ever dips: one that rests
/// nearer, goes through zero, or sinks while cranking to less than a starter holds on with, has lost it.
/// `values` at `rate_hz`, in any unit; `level` is where it rests. `in_volts`: the values are volts, so that a
/// level too low for any battery tells as well.
[[nodiscard]] Coupling find_voltage_coupling(std::span<const float> values, double rate_hz, bool in_volts);

}  // namespace evenstroke::trace
