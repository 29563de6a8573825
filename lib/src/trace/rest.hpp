// What a channel does before, during and after the starter turns: the shape that current and voltage share.
#pragma once

#include <optional>
#include <span>

namespace evenstroke::trace {

/// A quiet piece varies by less than this share of the whole range, noise and hum included.
inline constexpr double quiet_ratio = 0.08;

/// Levels in recorded units. "Quiet" means: steady, and at the edge of what the channel does.
struct Rest {
    std::optional<double> before;  ///< level at the start of the recording, when that is quiet
    std::optional<double> after;   ///< level at its end, when that is quiet
    double active = 0;             ///< median while the starter turns (of everything, when nothing is quiet)
    double extreme = 0;            ///< farthest excursion from rest, signed, relative to `level()`

    [[nodiscard]] bool known() const { return before || after; }
    /// The resting level, 0 when it was not recorded.
    [[nodiscard]] double level() const { return before ? *before : after.value_or(0.0); }
};

/// Looks at the ends of the recording and at what lies between. `values` is not empty.
[[nodiscard]] Rest find_rest(std::span<const float> values, double rate_hz);

}  // namespace evenstroke::trace
