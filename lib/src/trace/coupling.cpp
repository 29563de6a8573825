#include "coupling.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "signal/levels.hpp"
#include "trace/rest.hpp"

namespace evenstroke::trace {

namespace {

/// Mean over a period of mains hum; shorter than a compression.
constexpr double smoothing_s = 0.02;
/// Rest is looked for in so much of the start.
constexpr double rest_s = 0.08;
/// The inrush has gone after this time.
constexpr double inrush_s = 0.3;
/// What lies this share of the usual height beyond zero is above or below it; noise and drift stay within.
constexpr double clear_ratio = 0.15;
/// So many changes of side are no drift: three compressions.
constexpr int fewest_changes = 6;
/// The inrush stands out from the swing that follows it by more than this.
constexpr double inrush_over_swing = 1.5;
/// An undershoot on release of this share of the cranking level is more than drift …
constexpr double undershoot_ratio = 0.25;
/// … that of a high-pass comes with a sag before of about as much (a third of it in a third of the cranking)
/// …
constexpr double sag_ratio = 0.25;
/// … and recovers, as a charging current does not: by this share within the rest of the recording.
constexpr double recovery_ratio = 0.03;

double middle(std::span<const double> values) {
    std::vector<float> copy(values.begin(), values.end());
    return copy.empty() ? 0.0 : signal::quantile(copy, 0.5);
}

/// How often the values change from clearly above zero to clearly below, or back.
int changes_of_side(std::span<const double> values, double clear) {
    int changes = 0;
    int side = 0;
    for (const double v : values) {
        const int now = v > clear ? 1 : v < -clear ? -1 : side;
        changes += side != 0 && now != side;
        side = now;
    }
    return changes;
}

/// Sags while cranking, undershoots at once on release, and recovers.
bool sags_and_undershoots(std::span<const double> load, double clear, double rate_hz) {
    const auto samples = [rate_hz](double s) { return static_cast<std::size_t>(s * rate_hz); };
    const auto below = std::find_if(load.begin(), load.end(), [&](double v) { return v < -clear; });
    const auto end = static_cast<std::size_t>(below - load.begin());
    const std::size_t third = end / 3;
    // The edge itself is smoothed over; what follows must last for as long again.
    if (third == 0 || load.size() < end + 4 * samples(smoothing_s)) return false;
    const auto after = load.subspan(end + samples(smoothing_s));
    const std::size_t piece = std::max<std::size_t>(1, std::min(samples(rest_s), after.size() / 3));
    const double undershoot = -middle(after.first(piece));
    const double left = -middle(after.last(piece));
    const double first = middle(load.first(third));
    const double sag = first - middle(load.subspan(third, third));
    return undershoot > undershoot_ratio * first && sag > sag_ratio * undershoot &&
           left < (1 - recovery_ratio) * undershoot;
}

}  // namespace

Coupling find_coupling(std::span<const float> values, double rate_hz) {
    Coupling found;
    const auto window = static_cast<std::size_t>(std::max(1.0, smoothing_s * rate_hz));
    const std::vector<float> smooth = signal::moving_mean(values, window);
    const auto piece = static_cast<std::size_t>(std::max(3.0, rest_s * rate_hz));
    if (smooth.size() < 4 * piece) return found;
    const auto start = std::span(smooth).first(piece);
    const double lowest = signal::quantile(smooth, 0.0005);
    const double highest = signal::quantile(smooth, 0.9995);
    const double spread = signal::quantile(start, 0.95) - signal::quantile(start, 0.05);
    const bool rests = spread < quiet_ratio * (highest - lowest);
    found.level = rests ? signal::quantile(start, 0.5) : 0.0;
    found.sign = highest - found.level > found.level - lowest ? 1 : -1;
    std::vector<double> load;
    load.reserve(smooth.size());
    for (const float v : smooth) load.push_back(found.sign * (static_cast<double>(v) - found.level));
    const auto peak = std::max_element(load.begin(), load.end());
    const auto from =
        static_cast<std::size_t>(peak - load.begin()) + static_cast<std::size_t>(inrush_s * rate_hz);
    const auto later = std::span<const double>(load).subspan(rests ? std::min(from, load.size()) : 0);
    if (later.size() < piece) return found;
    const double usual = signal::quantile(std::vector<float>(later.begin(), later.end()), 0.95);
    const double clear = clear_ratio * usual;
    if (!(usual > 0)) return found;
    const bool swings = changes_of_side(later, clear) >= fewest_changes;
    found.zero_lost =
        rests ? (swings && *peak > inrush_over_swing * usual) || sags_and_undershoots(later, clear, rate_hz)
              : swings;
    return found;
}

}  // namespace evenstroke::trace
