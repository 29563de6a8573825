#include "levels.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace evenstroke::signal {

namespace {

/// More samples than this tell a level no better.
constexpr std::size_t most_level_samples = 100'000;

/// Half-width of the hysteresis band, as a share of the height between the levels.
constexpr double hysteresis_ratio = 0.25;

}  // namespace

double quantile(std::span<const float> values, double fraction) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    const std::size_t stride = std::max<std::size_t>(1, values.size() / most_level_samples);
    std::vector<float> some;
    some.reserve(values.size() / stride + 1);
    for (std::size_t i = 0; i < values.size(); i += stride) some.push_back(values[i]);
    const auto rank =
        static_cast<std::ptrdiff_t>(std::clamp(fraction, 0.0, 1.0) * static_cast<double>(some.size() - 1));
    std::nth_element(some.begin(), some.begin() + rank, some.end());
    return static_cast<double>(some[static_cast<std::size_t>(rank)]);
}

double width_of(std::span<const float> values) {
    return quantile(values, 0.95) - quantile(values, 0.05);
}

std::vector<float> moving_mean(std::span<const float> values, std::size_t window) {
    const std::size_t half = window / 2;
    std::vector<float> means(values.size());
    // One sum that slides along: single-precision values leave double precision room for any recording's
    // length.
    double sum = 0;
    std::size_t first = 0;
    std::size_t last = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        while (last < std::min(values.size(), i + half + 1)) sum += static_cast<double>(values[last++]);
        while (first + half < i) sum -= static_cast<double>(values[first++]);
        means[i] = static_cast<float>(sum / static_cast<double>(last - first));
    }
    return means;
}

TwoLevels two_levels(std::span<const float> values) {
    TwoLevels levels;
    if (values.empty()) return levels;
    const auto [lowest, highest] = std::minmax_element(values.begin(), values.end());
    const double middle = (static_cast<double>(*lowest) + static_cast<double>(*highest)) / 2;
    double low_sum = 0;
    double high_sum = 0;
    std::size_t high_count = 0;
    for (const float v : values) {
        const auto value = static_cast<double>(v);
        if (value > middle) {
            high_sum += value;
            ++high_count;
        } else {
            low_sum += value;
        }
    }
    const std::size_t low_count = values.size() - high_count;
    levels.low = low_count ? low_sum / static_cast<double>(low_count) : static_cast<double>(*lowest);
    levels.high = high_count ? high_sum / static_cast<double>(high_count) : static_cast<double>(*highest);
    const double quarter = (levels.high - levels.low) / 4;
    const auto between = std::count_if(values.begin(), values.end(), [&](float v) {
        return std::abs(static_cast<double>(v) - levels.middle()) < quarter;
    });
    levels.between_ratio = static_cast<double>(between) / static_cast<double>(values.size());
    const std::size_t rarer = std::min(low_count, high_count);
    if (rarer > 0) levels.edge_ratio = static_cast<double>(between) / static_cast<double>(rarer);
    levels.high_ratio = static_cast<double>(high_count) / static_cast<double>(values.size());
    return levels;
}

std::vector<Edge> crossings(std::span<const float> values, const TwoLevels& levels, double rate_hz,
                            double start_s) {
    std::vector<Edge> edges;
    const double middle = levels.middle();
    const double band = hysteresis_ratio * (levels.high - levels.low);
    if (values.empty() || !(band > 0)) return edges;
    bool high = static_cast<double>(values[0]) > middle;
    double crossed_at = 0;  // the latest passage through the middle; it counts once the band is left
    for (std::size_t i = 1; i < values.size(); ++i) {
        const auto before = static_cast<double>(values[i - 1]);
        const auto now = static_cast<double>(values[i]);
        if ((before <= middle) != (now <= middle))
            crossed_at = static_cast<double>(i - 1) + (middle - before) / (now - before);
        const bool leaves = high ? now < middle - band : now > middle + band;
        if (!leaves) continue;
        high = !high;
        edges.push_back({.time_s = start_s + crossed_at / rate_hz, .rising = high});
    }
    return edges;
}

}  // namespace evenstroke::signal
