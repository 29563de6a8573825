// Level changes of a wheel sensor: from sampled values, and without contact bounce.
#pragma once

#include <span>
#include <vector>

#include "evenstroke/recording.hpp"

namespace evenstroke::signal {

/// Shorter levels than this are bounce or interference: at 600 rpm a 60-tooth wheel still holds each level
/// for some 0.8 ms, and a narrow tooth for a tenth of that. Seconds.
inline constexpr double shortest_level_s = 50e-6;

/// `edges` without levels that last less than `shortest_s`; both ends of such a level go, so the levels
/// still alternate. Order kept.
[[nodiscard]] std::vector<Edge> without_bounce(std::span<const Edge> edges,
                                               double shortest_s = shortest_level_s);

/// Whether without_bounce() would change anything.
[[nodiscard]] bool bounces(std::span<const Edge> edges, double shortest_s = shortest_level_s);

/// Crossings of a sampled wheel signal (sine of a variable-reluctance sensor, or two levels), sample i at
/// start_s + i / rate_hz. The threshold is the local centre; it must be passed by a hysteresis that follows
/// the local amplitude. Times are interpolated between samples. Values that wrapped round the converter's
/// range are put back to the rail first (never where there are two levels). Empty when the signal never
/// moves. See docs/wheel.md, "From a voltage to edges".
[[nodiscard]] std::vector<Edge> find_edges(std::span<const float> values, double rate_hz, double start_s);

}  // namespace evenstroke::signal
