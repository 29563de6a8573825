#include "burning.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace evenstroke::pressure {

namespace {

/// Between the isentrope's 1.4 and what walls make of it; the same on either side, so it matters little.
constexpr double motored_exponent = 1.35;
/// Each side is looked at over this many half widths (about 40 degrees each): to where the piston is fastest.
constexpr double reach_widths = 2.5;
/// … and while the pressure stands this far above ambient: before the exhaust opens.
constexpr double least_ratio = 1.6;
/// The slope is that of a line over this part of the half width, and at least so many samples.
constexpr double window_widths = 0.4;
constexpr std::size_t fewest_window = 4;

/// The steepest of all lines by least squares over `window` neighbours; both directions count.
double steepest(const std::vector<double>& y, std::size_t window) {
    const double centre = (static_cast<double>(window) - 1) / 2;
    double spread = 0;
    for (std::size_t k = 0; k < window; ++k) spread += std::pow(static_cast<double>(k) - centre, 2);
    double most = 0;
    for (std::size_t i = 0; i + window <= y.size(); ++i) {
        double sum = 0;
        for (std::size_t k = 0; k < window; ++k) sum += (static_cast<double>(k) - centre) * y[i + k];
        most = std::max(most, std::abs(sum) / spread);
    }
    return most;
}

}  // namespace

std::optional<double> heated_ratio(std::span<const float> kpa, double shift_kpa, double ambient_kpa,
                                   const PulsePlace& place) {
    const auto window =
        std::max(fewest_window, static_cast<std::size_t>(std::lround(window_widths * place.half_width)));
    const auto reach = static_cast<std::size_t>(reach_widths * place.half_width) + window;
    const auto side = [&](int step) {
        std::vector<double> volume;
        for (std::size_t n = 0, i = place.top; n < reach && i < kpa.size(); ++n) {
            const double p = static_cast<double>(kpa[i]) + shift_kpa;
            if (p < least_ratio * ambient_kpa) return volume;
            volume.push_back(std::pow(p / ambient_kpa, -1 / motored_exponent));
            if (step < 0 && i == 0) break;
            i = step < 0 ? i - 1 : i + 1;
        }
        if (volume.size() < reach) volume.clear();  // the recording ends on this flank
        return volume;
    };
    const std::vector<double> before = side(-1), after = side(1);
    if (2 * before.size() < 3 * window || 2 * after.size() < 3 * window) return std::nullopt;
    const double rising = steepest(after, window);
    return rising > 0 ? std::optional(steepest(before, window) / rising) : std::nullopt;
}

}  // namespace evenstroke::pressure
