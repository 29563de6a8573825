// Levels of a signal and the moments at which it changes between two of them.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "evenstroke/recording.hpp"

namespace evenstroke::signal {

/// The value below which `fraction` (0 to 1) of the samples lie; not a number when there is none. Looks at no
/// more than about 100 000 samples, evenly spread.
[[nodiscard]] double quantile(std::span<const float> values, double fraction);

/// Between the lowest and the highest twentieth of the samples: how far they swing, spikes left out.
[[nodiscard]] double width_of(std::span<const float> values);

/// Mean over a sliding window centred on each sample (shortened at the ends); same length. `window` >= 1
/// sample.
[[nodiscard]] std::vector<float> moving_mean(std::span<const float> values, std::size_t window);

/// Two levels and how well two levels describe the signal.
struct TwoLevels {
    double low = 0;
    double high = 0;
    double between_ratio = 1;  ///< share of the samples that lie in the middle half between the levels
    double edge_ratio = 1;     ///< the same samples over those at the rarer of the two levels
    double high_ratio = 0;     ///< share of the samples nearer to `high`
    [[nodiscard]] double middle() const { return (low + high) / 2; }
};

/// Levels by the extremes; constant signals have low == high.
[[nodiscard]] TwoLevels two_levels(std::span<const float> values);

/// Crossings of the middle with hysteresis of a quarter of the height on either side; times are interpolated
/// linearly between samples, in samples from the first. `Edge::time_s` holds samples / rate_hz + start_s.
[[nodiscard]] std::vector<Edge> crossings(std::span<const float> values, const TwoLevels& levels,
                                          double rate_hz, double start_s);

}  // namespace evenstroke::signal
