// Over which part of the cranking its mean speed is taken. Private to the library.
#pragma once

#include <algorithm>

namespace evenstroke::cranking {

/// In the first second the battery is at its strongest and the oil at its thickest, and the speed still falls
/// or rises by some percent. Common practice, no published source.
inline constexpr double first_second_s = 1;
/// So many cycles remain after it, or it is not left out.
inline constexpr double fewest_speed_cycles = 2;

/// From where to `end_s` the mean speed is taken.
[[nodiscard]] inline double speed_from_s(double start_s, double settled_s, double end_s, double cycle_s) {
    const double later_s = std::max(settled_s, start_s + first_second_s);
    return end_s - later_s >= fewest_speed_cycles * cycle_s ? later_s : settled_s;
}

}  // namespace evenstroke::cranking
