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
/// A full gauge shows no compression: it may have met this many more than it shows when it stands so long.
constexpr double stood_cycles = 3;
/// A single puff gives no cycle; starters turn no engine slower than at 100 rpm (from memory).
constexpr double longest_cycle_s = 1.2;
/// A check valve that leaks lets the gauge sink no faster than this within a block, a time constant of 0.2 s:
/// a compression without a valve falls by most of its height in two or three.
constexpr double most_sink_ratio = 0.1;
/// What is left of a puff when the next compression comes: below that no valve was there.
constexpr double least_left_ratio = 0.25;
/// A puff of such a gauge makes up for what leaked; it takes less than this share of the time.
constexpr double tooth_ratio = 0.05, most_rising_ratio = 0.25;
constexpr std::size_t fewest_teeth = 3;

std::size_t samples_of_a_level(double rate_hz) {
    return static_cast<std::size_t>(std::max(1.0, block_s * rate_hz));
}

double seconds_of_a_level(double rate_hz) {
    return static_cast<double>(samples_of_a_level(rate_hz)) / rate_hz;
}

std::vector<double> levels(std::span<const float> kpa, double rate_hz) {
    const std::size_t block = samples_of_a_level(rate_hz);
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

/// How far the levels sink below what they had reached, up to `last`.
double sag(const std::vector<double>& level, std::size_t last) {
    double highest = level.front(), most = 0;
    for (std::size_t i = 0; i <= last; ++i) {
        highest = std::max(highest, level[i]);
        most = std::max(most, highest - level[i]);
    }
    return most;
}

/// Whether the levels stay near those of the last puff for the time of more compressions than were seen;
/// `puffs` are the levels at which they were. The nearest two are a cycle apart: small steps are seen
/// together.
bool stands(const std::vector<double>& level, const std::vector<std::size_t>& puffs, double level_s) {
    double cycle_s = longest_cycle_s;
    for (std::size_t k = 1; k < puffs.size(); ++k)
        cycle_s = std::min(cycle_s, level_s * static_cast<double>(puffs[k] - puffs[k - 1]));
    const double least = level[puffs.back()] - most_fall_ratio * (level[puffs.back()] - level.front());
    const auto fallen = std::find_if(level.begin() + static_cast<std::ptrdiff_t>(puffs.back()), level.end(),
                                     [&](double v) { return v < least; });
    const double seen_s =
        level_s * static_cast<double>(fallen - (level.begin() + static_cast<std::ptrdiff_t>(puffs.front())));
    return seen_s >= (static_cast<double>(puffs.size() - 1) + stood_cycles) * cycle_s;
}

/// The levels that end a rise by a tooth's height.
std::vector<std::size_t> teeth(const std::vector<double>& level, double climb) {
    std::vector<std::size_t> tops;
    double lowest = level.front();
    for (std::size_t i = 1; i + 1 < level.size(); ++i) {
        lowest = std::min(lowest, level[i]);
        if (level[i] < level[i - 1] || level[i + 1] > level[i] || level[i] - lowest < tooth_ratio * climb)
            continue;
        tops.push_back(i);
        lowest = level[i];
    }
    return tops;
}

/// Whether the levels rise fast, sink slowly and never far, from the first of the teeth to the last.
bool sinks(const std::vector<double>& level, const std::vector<std::size_t>& tops, double climb) {
    std::size_t rising = 0, sinking = 0, tooth = 0;
    for (std::size_t i = tops.front() + 1; i <= tops.back(); ++i) {
        const double change = level[i] - level[i - 1];
        const double puff = level[tops[tooth]] - level.front();
        if (level[i] - level.front() < least_left_ratio * puff || change < -most_sink_ratio * climb)
            return false;
        rising += change > held_ratio * climb;
        sinking += change < 0;
        tooth += i == tops[tooth + 1];
    }
    return static_cast<double>(rising) < most_rising_ratio * static_cast<double>(rising + sinking);
}

}  // namespace

Staircase find_staircase(std::span<const float> kpa, double rate_hz) {
    const std::vector<double> level = levels(kpa, rate_hz);
    if (level.size() < fewest_levels) return {};
    const auto top = static_cast<std::size_t>(std::max_element(level.begin(), level.end()) - level.begin());
    if (!climbs(level, top) || comes_back(level, top)) return {};
    const double climb = level[top] - level.front();
    Staircase stairs{.start_kpa = level.front(), .sag_ratio = sag(level, top) / climb};
    std::vector<std::size_t> puffs;
    double before = level.front();
    for (std::size_t i = 1; i <= top; ++i) {
        const bool flat = i == top || level[i + 1] - level[i] < held_ratio * climb;
        if (!flat || level[i] - before < least_step_ratio * climb) continue;
        stairs.puffs_kpa.push_back(level[i] - level.front());
        puffs.push_back(i);
        before = level[i];
    }
    stairs.stood = !puffs.empty() && stands(level, puffs, seconds_of_a_level(rate_hz));
    return stairs;
}

Staircase find_sinking_staircase(std::span<const float> kpa, double rate_hz) {
    const std::vector<double> level = levels(kpa, rate_hz);
    if (level.size() < fewest_levels) return {};
    const auto top = static_cast<std::size_t>(std::max_element(level.begin(), level.end()) - level.begin());
    const double climb = level[top] - level.front();
    if (!(climb > 0)) return {};
    const std::vector<std::size_t> tops = teeth(level, climb);
    if (tops.size() < fewest_teeth || !sinks(level, tops, climb)) return {};
    Staircase stairs{.start_kpa = level.front(), .sag_ratio = sag(level, tops.back()) / climb};
    for (const std::size_t i : tops) stairs.puffs_kpa.push_back(level[i] - level.front());
    return stairs;
}

}  // namespace evenstroke::pressure
