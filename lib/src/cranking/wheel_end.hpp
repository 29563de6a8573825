// Where the unfired cranking of a wheel ends. Private to the library.
#pragma once

#include "usable_end.hpp"
#include "wheel_settle.hpp"

namespace evenstroke::cranking {

/// The last slow phase before the engine runs away or the crank stops, or where the starter lets go; the last
/// tooth when it does neither. `stops`: the wheel stands still after its last tooth, as far as the recording
/// shows.
[[nodiscard]] UsableEnd end_of_wheel(const ToothTimes& times, const ToothRates& rates,
                                     const SteadyRate& level, bool stops);

}  // namespace evenstroke::cranking
