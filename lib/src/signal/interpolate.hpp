// Straight lines between knots.
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>

namespace evenstroke::signal {

/// The knot at which the stretch that holds `at` begins; beyond the ends that of the first or the last
/// stretch. `knots`: two at least, ascending.
[[nodiscard]] inline std::size_t stretch_of(std::span<const double> knots, double at) {
    const auto above = std::upper_bound(knots.begin(), knots.end(), at) - knots.begin();
    return static_cast<std::size_t>(
               std::clamp<std::ptrdiff_t>(above, 1, static_cast<std::ptrdiff_t>(knots.size()) - 1)) -
           1;
}

/// y at `at` of the straight line through knots `a` and `b` of (x, y).
[[nodiscard]] inline double line_through(std::span<const double> x, std::span<const double> y, std::size_t a,
                                         std::size_t b, double at) {
    return y[a] + (at - x[a]) / (x[b] - x[a]) * (y[b] - y[a]);
}

/// y at `at` by straight lines between the knots (x, y); the outermost lines go on beyond the ends. Two knots
/// at least, x ascending.
[[nodiscard]] inline double interpolate(std::span<const double> x, std::span<const double> y, double at) {
    const std::size_t knot = stretch_of(x, at);
    return line_through(x, y, knot, knot + 1, at);
}

}  // namespace evenstroke::signal
