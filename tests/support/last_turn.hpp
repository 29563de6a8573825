// Speed as it is counted by hand, whole turn by whole turn.
#pragma once

#include <algorithm>
#include <optional>

#include "angle/wheel.hpp"

namespace evenstroke::test {

/// Mean speed over the last whole turn before `end_s`, rpm; empty when there is no whole turn.
inline std::optional<double> speed_of_last_turn_rpm(const WheelTeeth& teeth, double end_s) {
    const auto past = std::upper_bound(teeth.time_s.begin(), teeth.time_s.end(), end_s + 1e-9);
    if (past == teeth.time_s.begin()) return {};
    const auto last = static_cast<std::size_t>(past - teeth.time_s.begin()) - 1;
    for (std::size_t first = last; first-- > 0;) {
        const double turned = teeth.angle_deg[last] - teeth.angle_deg[first];
        if (turned < turn_deg - 1e-6) continue;
        return turned / 6 / (teeth.time_s[last] - teeth.time_s[first]);  // 6 deg/s is 1 rpm
    }
    return {};
}

}  // namespace evenstroke::test
