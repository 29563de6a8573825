#include "evenstroke/angle.hpp"
#include "signal/interpolate.hpp"

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
    const std::size_t knot = signal::stretch_of(time_s, when_s);
    const double slope = (angle_deg[knot + 1] - angle_deg[knot]) / (time_s[knot + 1] - time_s[knot]);
    const double value = angle_deg[knot] + slope * (when_s - time_s[knot]);
    if (value < angle_deg.front() - longest_extension_deg || value > angle_deg.back() + longest_extension_deg)
        return std::nullopt;
    return value;
}

}  // namespace evenstroke
