#include <algorithm>

#include "evenstroke/angle.hpp"

namespace evenstroke {

namespace {

/// Beyond the first and last knot the angle is carried on by no more than one cycle.
constexpr double longest_extension_deg = cycle_deg;

}  // namespace

const char* name(ReferenceKind kind) {
    switch (kind) {
        case ReferenceKind::sync:
            return "sync";
        case ReferenceKind::wheel:
            return "wheel";
        case ReferenceKind::none:
            break;
    }
    return "none";
}

std::optional<double> CrankAngle::at(double when_s) const {
    if (time_s.size() < 2) return std::nullopt;
    const auto above = std::upper_bound(time_s.begin(), time_s.end(), when_s) - time_s.begin();
    const auto b = static_cast<std::size_t>(
        std::clamp<std::ptrdiff_t>(above, 1, static_cast<std::ptrdiff_t>(time_s.size()) - 1));
    const std::size_t a = b - 1;
    const double slope = (angle_deg[b] - angle_deg[a]) / (time_s[b] - time_s[a]);
    const double value = angle_deg[a] + slope * (when_s - time_s[a]);
    if (value < angle_deg.front() - longest_extension_deg || value > angle_deg.back() + longest_extension_deg)
        return std::nullopt;
    return value;
}

}  // namespace evenstroke
