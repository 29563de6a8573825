#include "hump_width.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace evenstroke::angle {

namespace {

/// Places that the time between two marks is divided into: a hump of a tenth of it still fills a dozen.
constexpr std::size_t places = 120;

}  // namespace

std::optional<double> hump_share(const Trace& trace, std::span<const float> load,
                                 std::span<const double> marks_s) {
    std::array<double, places> sum{};
    for (std::size_t i = 0; i + 1 < marks_s.size(); ++i)
        for (std::size_t k = 0; k < places; ++k) {
            const auto at = [&](double place) {
                return trace.sample_at(marks_s[i] + (marks_s[i + 1] - marks_s[i]) * place / places);
            };
            const std::size_t first = at(static_cast<double>(k));
            if (first >= load.size()) return {};
            // The mean over the place; at a low rate the one sample there.
            const std::size_t last = std::clamp(at(static_cast<double>(k) + 1), first + 1, load.size());
            double here = 0;
            for (std::size_t s = first; s < last; ++s) here += static_cast<double>(load[s]);
            sum[k] += here / static_cast<double>(last - first);
        }
    const auto [low, high] = std::minmax_element(sum.begin(), sum.end());
    if (!(*high > *low)) return {};
    const double middle = (*low + *high) / 2;
    return static_cast<double>(std::count_if(sum.begin(), sum.end(), [&](double v) { return v > middle; })) /
           places;
}

}  // namespace evenstroke::angle
