#include "pressure_shape.hpp"

#include <algorithm>
#include <cmath>

#include "signal/levels.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::trace {

namespace {

/// Polytropic compression of 7 to 20 to one (exponent 1.32) stands above 15 % of its peak for 40 to 66
/// degrees to either side of TDC, and above half of it for 19 to 32, out of 720. Of 228
/// simulated loads of two and more cylinders none stood above the foot for less than 31 % of the time; a few
/// stood above half for as little as 8 %. A spark or an injector is briefer still.
constexpr double foot_share = 0.15, most_above_foot = 0.22;
constexpr double half_share = 0.5, least_above_half = 0.03, most_above_half = 0.12;
/// 70 degrees at the slowest cranking, 45 rpm: what stays up for longer, or away for longer than from one
/// compression to the next, is a burst of cranking, or its inrush.
constexpr double longest_pulse_s = 0.26;
/// From rest to the lowest, of what it swings: pressure falls below the outside between strokes.
constexpr double farthest_rest_share = 0.15;
/// Noise is averaged over this part of what is looked at: a degree or two.
constexpr std::size_t smoothing_parts = 1000, fewest_samples = 100;

}  // namespace

bool brief_pulses(std::span<const float> values, double rate_hz, std::optional<double> rest) {
    const std::size_t third = values.size() / 3;
    if (third < fewest_samples) return false;
    const auto smooth =
        signal::moving_mean(values.subspan(third, third), std::max<std::size_t>(1, third / smoothing_parts));
    const auto [low, high] = std::minmax_element(smooth.begin(), smooth.end());
    const double swing = static_cast<double>(*high - *low);
    if (rest && std::abs(*rest - static_cast<double>(*low)) > farthest_rest_share * swing) return false;
    const float foot = *low + static_cast<float>(foot_share * swing);
    const float half = *low + static_cast<float>(half_share * swing);
    std::size_t above_foot = 0, above_half = 0, up = 0, down = 0, longest = 0, rarest = 0;
    for (const float v : smooth) {
        above_foot += v > foot;
        above_half += v > half;
        up = v > half ? up + 1 : 0;
        down = v > half ? 0 : down + 1;
        longest = std::max(longest, up);
        rarest = std::max(rarest, down);
    }
    const auto share = [&](std::size_t count) {
        return static_cast<double>(count) / static_cast<double>(third);
    };
    return share(above_foot) < most_above_foot && share(above_half) > least_above_half &&
           share(above_half) < most_above_half && static_cast<double>(longest) < longest_pulse_s * rate_hz &&
           static_cast<double>(rarest) < longest_event_s * rate_hz;
}

}  // namespace evenstroke::trace
