#include "polarity.hpp"

#include <algorithm>
#include <cstddef>
#include <vector>

#include "signal/levels.hpp"
#include "staircase.hpp"

namespace evenstroke::pressure {

namespace {

/// A pulse points this many times further from the middle than anything on the other side.
constexpr double lopsided_ratio = 1.5;
/// Four cylinders on one transducer are past half their height for a quarter of the time.
constexpr double most_away_ratio = 0.25;
/// Fewer steps down are a gauge that is vented.
constexpr std::size_t fewest_steps = 3;

struct Dips {
    std::size_t whole = 0;  ///< from above to below the level and back
    double away_ratio = 0;  ///< share of the samples below it
};

Dips dips_below(std::span<const float> values, double level) {
    Dips dips;
    std::size_t below = 0;
    bool was_above = false, entered = false;
    for (const float v : values) {
        if (static_cast<double>(v) < level) {
            ++below;
            entered = was_above;
            continue;
        }
        dips.whole += entered;
        entered = false;
        was_above = true;
    }
    dips.away_ratio = static_cast<double>(below) / static_cast<double>(values.size());
    return dips;
}

}  // namespace

bool upside_down(std::span<const float> kpa, double rate_hz) {
    if (kpa.empty() || !find_staircase(kpa, rate_hz).puffs_kpa.empty() ||
        !find_sinking_staircase(kpa, rate_hz).puffs_kpa.empty())
        return false;
    std::vector<float> turned(kpa.begin(), kpa.end());
    for (float& v : turned) v = -v;
    if (find_staircase(turned, rate_hz).puffs_kpa.size() >= fewest_steps) return true;
    const double middle = signal::quantile(kpa, 0.5);
    const auto [low, high] = std::minmax_element(kpa.begin(), kpa.end());
    const double down = middle - static_cast<double>(*low);
    if (down <= lopsided_ratio * (static_cast<double>(*high) - middle)) return false;
    // A gauge that is low before its first puff, or after it is vented, does not come back from there.
    const Dips dips = dips_below(kpa, middle - down / 2);
    return dips.whole > 0 && dips.away_ratio < most_away_ratio;
}

}  // namespace evenstroke::pressure
