// What is plotted of a wheel, which has no samples: its speed from tooth to tooth.
#pragma once

#include <vector>

#include "evenstroke/angle.hpp"

namespace evenstroke::render {

struct SpeedAt {
    double time_s = 0;  ///< in the middle between two knots
    double rpm = 0;     ///< not finite where two knots share one time
};

/// Mean speed between each knot of the angle and the next, in time order.
[[nodiscard]] inline std::vector<SpeedAt> wheel_speeds(const CrankAngle& angle) {
    constexpr double deg_per_s_of_rpm = 6;
    std::vector<SpeedAt> speeds;
    for (std::size_t i = 1; i < angle.time_s.size(); ++i) {
        const double step_s = angle.time_s[i] - angle.time_s[i - 1];
        speeds.push_back({angle.time_s[i - 1] + step_s / 2,
                          (angle.angle_deg[i] - angle.angle_deg[i - 1]) / step_s / deg_per_s_of_rpm});
    }
    return speeds;
}

}  // namespace evenstroke::render
