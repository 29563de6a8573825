#include "spikes.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "signal/levels.hpp"
#include "trace/clean.hpp"

namespace evenstroke::pressure {

namespace {

/// A compression at 600 rpm is 11 ms wide at half its height. From here on it is as wide as 16 readings, and
/// no three of them stand out from the nine about them.
constexpr double dense_rate_hz = 1500;
/// A spike jumps by more than this share of how far it is from the level between strokes. The three highest
/// readings of a compression do not, as long as four of them span its half width: about 12 degrees each.
constexpr double jump_ratio = 0.5;

}  // namespace

std::size_t bridge_spikes(Pressure& p) {
    std::vector<float> bridged = p.kpa;
    std::size_t count = trace::remove_spikes(bridged);
    if (count > 0 && p.rate_hz < dense_rate_hz) {
        const double rest_kpa = signal::quantile(p.kpa, 0.5);
        count = 0;
        for (std::size_t i = 0; i < p.kpa.size();) {
            double jump_kpa = 0, height_kpa = 0;
            std::size_t last = i;
            for (; last < p.kpa.size() && bridged[last] != p.kpa[last]; ++last) {
                const auto reading = static_cast<double>(p.kpa[last]);
                jump_kpa = std::max(jump_kpa, std::abs(reading - static_cast<double>(bridged[last])));
                height_kpa = std::max(height_kpa, std::abs(reading - rest_kpa));
            }
            if (jump_kpa > jump_ratio * height_kpa)
                ++count;
            else
                std::copy(p.kpa.begin() + static_cast<std::ptrdiff_t>(i),
                          p.kpa.begin() + static_cast<std::ptrdiff_t>(last),
                          bridged.begin() + static_cast<std::ptrdiff_t>(i));
            i = last + 1;
        }
    }
    p.kpa = std::move(bridged);
    return count;
}

}  // namespace evenstroke::pressure
