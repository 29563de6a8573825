#include "speed_ramp.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace evenstroke::angle {

double SpeedRamp::time_s(double steady_s) const {
    if (share == 0) return steady_s;
    // Speed over its mean is 1 + share (2 x - 1) at the part x of the duration; steady time is its integral,
    // duration times (1 - share) x + share x². This root of the quadratic holds for either sign.
    const double passed = steady_s / duration_s;
    const double first = 1 - share;
    return duration_s * 2 * passed / (first + std::sqrt(first * first + 4 * share * passed));
}

std::vector<float> steadied(const std::vector<float>& values, const SpeedRamp& ramp) {
    if (ramp.share == 0 || values.size() < 2) return values;
    const auto count = static_cast<double>(values.size());
    std::vector<float> out;
    out.reserve(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double steady_s = static_cast<double>(i) / count * ramp.duration_s;
        const double place = ramp.time_s(steady_s) / ramp.duration_s * count;
        const auto low = std::min(static_cast<std::size_t>(std::max(0.0, place)), values.size() - 2);
        const auto part = static_cast<float>(place - static_cast<double>(low));
        out.push_back(values[low] + part * (values[low + 1] - values[low]));
    }
    return out;
}

}  // namespace evenstroke::angle
