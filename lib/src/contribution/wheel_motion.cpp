#include "wheel_motion.hpp"

#include <algorithm>
#include <cstddef>

#include "angle/wheel.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// Fewer settled cycles than this are stretched backwards into the run-up, down to this share of the speed.
constexpr double wanted_cycles = 2.0;
constexpr double run_up_share = 0.75;
/// How far the crank coasts with the starter let go before its speed shows it.
constexpr double coasting_deg = 360.0;

std::size_t first_tooth(const CrankAngle& angle, const Cranking& cranking, double interval_deg) {
    const auto settled = std::lower_bound(angle.time_s.begin(), angle.time_s.end(), cranking.settled_s);
    auto first = static_cast<std::size_t>(settled - angle.time_s.begin());
    first = std::min(first, angle.time_s.size() - 2);
    const double wanted = angle.angle_deg.back() - wanted_cycles * cycle_deg;
    while (first > 0 && angle.angle_deg[first] > wanted) {
        const auto ahead = std::lower_bound(angle.angle_deg.begin(), angle.angle_deg.end(),
                                            angle.angle_deg[first - 1] + interval_deg);
        if (ahead == angle.angle_deg.end()) break;
        const auto k = static_cast<std::size_t>(ahead - angle.angle_deg.begin());
        const double rpm = (angle.angle_deg[k] - angle.angle_deg[first - 1]) / 6 /
                           (angle.time_s[k] - angle.time_s[first - 1]);
        if (rpm < run_up_share * angle.speed_rpm) break;
        --first;
    }
    return first;
}

/// The tooth past the last that is used. After the key is let go the crank coasts on for up to a turn, and
/// nothing in its speed tells when that was: so much before a release is left out where enough cycles remain.
std::size_t past_last_tooth(const CrankAngle& angle, std::size_t first, CrankingEnd ended_by) {
    const std::size_t all = angle.angle_deg.size();
    if (ended_by != CrankingEnd::release) return all;
    const double last_deg = angle.angle_deg.back() - coasting_deg;
    if (last_deg - angle.angle_deg[first] < wanted_cycles * cycle_deg) return all;
    const auto past = std::upper_bound(angle.angle_deg.begin(), angle.angle_deg.end(), last_deg);
    return static_cast<std::size_t>(past - angle.angle_deg.begin());
}

}  // namespace

WheelMotion motion_of(const CrankAngle& angle, const Cranking& cranking, const EngineLayout& layout) {
    const double longest_deg = *std::max_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    const std::size_t first = first_tooth(angle, cranking, longest_deg);
    const std::size_t past = past_last_tooth(angle, first, cranking.ended_by);
    WheelMotion motion;
    const auto from = static_cast<std::ptrdiff_t>(first), to = static_cast<std::ptrdiff_t>(past);
    motion.time_s.assign(angle.time_s.begin() + from, angle.time_s.begin() + to);
    motion.angle_deg.assign(angle.angle_deg.begin() + from, angle.angle_deg.begin() + to);
    const ToothSpeed speed = tooth_speed(motion.time_s, motion.angle_deg, true);
    motion.rad_per_s = Eigen::Map<const Eigen::VectorXd>(speed.rad_per_s.data(),
                                                         static_cast<Eigen::Index>(speed.rad_per_s.size()));
    motion.tdc_deg = layout.firing_tdc_deg();
    motion.repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    return motion;
}

std::vector<double> cycle_periods_s(const CrankAngle& angle) {
    std::vector<double> periods_s;
    const std::size_t most = static_cast<std::size_t>(std::max(1, angle.cycles));
    std::size_t last = angle.time_s.size() - 1;
    for (std::size_t i = last; i-- > 0 && periods_s.size() < most;) {
        const double turned_deg = angle.angle_deg[last] - angle.angle_deg[i];
        if (turned_deg < cycle_deg - tooth_rounding_deg) continue;
        periods_s.push_back((angle.time_s[last] - angle.time_s[i]) * cycle_deg / turned_deg);
        last = i;
    }
    return periods_s;
}

}  // namespace evenstroke::contribution::wheel
