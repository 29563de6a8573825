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
/// No injector is held open for longer while cranking, however cold; a rest before an inrush is longer.
constexpr double longest_pull_s = 0.15;
/// A kick begins this soon after a pull, and one alone may be an inrush after a short rest.
constexpr double letting_go_s = 0.002;
constexpr std::size_t fewest_kicks = 2;

/// How far the signal goes from rest to one side, and how long it stays beyond half of that.
struct Side {
    double sign = 1;
    double reach = 0;
    std::size_t samples = 0;
    std::size_t longest = 0;  ///< samples of one stay
    [[nodiscard]] bool holds(float value, double rest) const {
        return sign * (static_cast<double>(value) - rest) > reach / 2;
    }
};

Side side_of(std::span<const float> values, double rest, double sign) {
    Side side{.sign = sign};
    for (const float v : values) side.reach = std::max(side.reach, sign * (static_cast<double>(v) - rest));
    std::size_t stay = 0;
    for (const float v : values) {
        stay = side.holds(v, rest) ? stay + 1 : 0;
        side.samples += stay > 0;
        side.longest = std::max(side.longest, stay);
    }
    return side;
}

/// Whether most kicks, and more than one, begin where a pull has just been let go.
bool follow_pulls(std::span<const float> values, double rest, const Side& pull, const Side& kick,
                  double rate_hz) {
    const auto soon = static_cast<std::size_t>(std::max(2.0, letting_go_s * rate_hz));
    std::size_t since_pull = values.size(), kicks = 0, after_pull = 0;
    bool kicking = false;
    for (const float v : values) {
        since_pull = pull.holds(v, rest) ? 0 : since_pull + 1;
        const bool now = kick.holds(v, rest);
        if (now && !kicking) {
            ++kicks;
            after_pull += since_pull <= soon;
        }
        kicking = now;
    }
    return after_pull >= fewest_kicks && 2 * after_pull > kicks;
}

bool kicks(std::span<const float> values, double rest, const Side& pull, const Side& kick, double rate_hz) {
    return pull.reach > 0 && kick.reach > least_kick_of_pull * pull.reach &&
           pull.reach > least_pull_of_kick * kick.reach &&
           static_cast<double>(pull.samples) > least_length_ratio * static_cast<double>(kick.samples) &&
           static_cast<double>(pull.longest) < longest_pull_s * rate_hz &&
           follow_pulls(values, rest, pull, kick, rate_hz);
}

}  // namespace

std::vector<float> without_flyback(std::span<const float> values, double rate_hz) {
    std::vector<float> kept(values.begin(), values.end());
    if (values.empty()) return kept;
    const double rest = quantile(values, 0.5);
    const Side above = side_of(values, rest, 1);
    const Side below = side_of(values, rest, -1);
    const auto limit = static_cast<float>(rest);
    if (kicks(values, rest, below, above, rate_hz))
        for (float& v : kept) v = std::min(v, limit);
    else if (kicks(values, rest, above, below, rate_hz))
        for (float& v : kept) v = std::max(v, limit);
    return kept;
}

}  // namespace evenstroke::signal
