#include "staircase.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

/// Levels are looked at over this time.
constexpr double block_s = 0.02;
constexpr std::size_t fewest_levels = 10;
/// A gauge holds: on its way up it never falls back by more than this share of the climb.
constexpr double most_fall_ratio = 0.1;
/// It stands high for this share of the recording, where compressions stand for a tenth.
constexpr double least_held_ratio = 0.25;
/// A step is worth counting when it is this share of the whole climb; a quarter of that is held.
constexpr double least_step_ratio = 0.02, held_ratio = 0.005;
/// Fallen back to this share of the climb, and up again to that.
constexpr double fallen_ratio = 0.25, back_ratio = 0.75;

std::vector<double> levels(std::span<const float> kpa, double rate_hz) {
    const auto block = static_cast<std::size_t>(std::max(1.0, block_s * rate_hz));
    std::vector<double> level;
    for (std::size_t i = 0; i + block <= kpa.size(); i += block)
        level.push_back(signal::median({kpa.begin() + static_cast<std::ptrdiff_t>(i),
                                        kpa.begin() + static_cast<std::ptrdiff_t>(i + block)}));
    return level;
}

/// Whether the levels up to `top` climb and hold. After the last puff a gauge leaks slowly, or is vented.
bool climbs(const std::vector<double>& level, std::size_t top) {
    const double climb = level[top] - level.front();
    if (!(climb > 0) || top < 4) return false;
    const auto high =
        std::count_if(level.begin(), level.end(), [&](double v) { return v - level.front() > climb / 2; });
    if (static_cast<double>(high) < least_held_ratio * static_cast<double>(level.size())) return false;
    double highest = level.front();
    std::size_t held = 0;
    for (std::size_t i = 1; i <= top; ++i) {
        highest = std::max(highest, level[i]);
        if (highest - level[i] > most_fall_ratio * climb) return false;
        held += std::abs(level[i] - level[i - 1]) < held_ratio * climb;
    }
    return held >= top / 4;
}

/// Whether the levels after `top` come back once they fell: the compressions of a cylinder without a check
/// valve do, the first of them the highest where the crank all but stops at it. A gauge that is vented stays
/// down.
bool comes_back(const std::vector<double>& level, std::size_t top) {
    const double climb = level[top] - level.front();
    bool fell = false;
    for (std::size_t i = top + 1; i < level.size(); ++i) {
        const double share = (level[i] - level.front()) / climb;
        if (fell && share > back_ratio) return true;
        fell = fell || share < fallen_ratio;
    }
    return false;
}

}  // namespace

Staircase find_staircase(std::span<const float> kpa, double rate_hz) {
    const std::vector<double> level = levels(kpa, rate_hz);
    if (level.size() < fewest_levels) return {};
    const auto top = static_cast<std::size_t>(std::max_element(level.begin(), level.end()) - level.begin());
    if (!climbs(level, top) || comes_back(level, top)) return {};
    Staircase stairs{level.front(), {}};
    const double climb = level[top] - level.front();
    double before = level.front();
    for (std::size_t i = 1; i <= top; ++i) {
        const bool flat = i == top || level[i + 1] - level[i] < held_ratio * climb;
        if (!flat || level[i] - before < least_step_ratio * climb) continue;
        stairs.puffs_kpa.push_back(level[i] - level.front());
        before = level[i];
    }
    return stairs;
}

}  // namespace evenstroke::pressure
