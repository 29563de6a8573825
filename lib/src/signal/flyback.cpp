#include "flyback.hpp"

#include <algorithm>
#include <cmath>

#include "levels.hpp"

namespace evenstroke::signal {

namespace {

/// A kick is no lower than this share of the pull (less would hardly move the middle of the levels), the pull
/// no lower than that of the kick: an ignition coil's primary kicks to hundreds of volts, and its spark is
/// the mark.
constexpr double least_kick_of_pull = 0.25, least_pull_of_kick = 0.1;
/// The pull lasts so many times as long as the kick. A magnetic pickup swings alike to both sides.
constexpr double least_length_ratio = 3;

/// How far the signal goes from rest to one side, and how long it stays beyond half of that.
struct Side {
    double reach = 0;
    std::size_t samples = 0;
};

Side side_of(std::span<const float> values, double rest, double sign) {
    Side side;
    for (const float v : values) side.reach = std::max(side.reach, sign * (static_cast<double>(v) - rest));
    for (const float v : values) side.samples += sign * (static_cast<double>(v) - rest) > side.reach / 2;
    return side;
}

bool kicks(const Side& pull, const Side& kick) {
    return pull.reach > 0 && kick.reach > least_kick_of_pull * pull.reach &&
           pull.reach > least_pull_of_kick * kick.reach &&
           static_cast<double>(pull.samples) > least_length_ratio * static_cast<double>(kick.samples);
}

}  // namespace

std::vector<float> without_flyback(std::span<const float> values) {
    std::vector<float> kept(values.begin(), values.end());
    if (values.empty()) return kept;
    const double rest = quantile(values, 0.5);
    const Side above = side_of(values, rest, 1);
    const Side below = side_of(values, rest, -1);
    const auto limit = static_cast<float>(rest);
    if (kicks(below, above))
        for (float& v : kept) v = std::min(v, limit);
    else if (kicks(above, below))
        for (float& v : kept) v = std::max(v, limit);
    return kept;
}

}  // namespace evenstroke::signal
