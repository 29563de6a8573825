#include "coupling.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
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
/// The starter turns where this share of the highest load is first passed.
constexpr double engaged_ratio = 0.3;
/// Zero's side is judged over so much of it: longer than anyone cranks, shorter than a drift takes.
constexpr double longest_look_s = 30;
/// Rest and its noise stay below this share of the highest load.
constexpr double floor_ratio = 0.03;
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

/// A voltage that goes beyond zero on both sides by this share of its range goes through it.
constexpr double through_zero_ratio = 0.05;

/// A starter's relay lets go below about this share of the battery's voltage at rest (from memory): no
/// starter is cranked with less for half of the time.
constexpr double least_cranking_ratio = 0.35;
/// The starter turns where the voltage dips by this share of the deepest dip.
constexpr double dipping_ratio = 0.3;

/// Not even a battery of 6 V shows less than this all through a recording: half its voltage at rest.
constexpr double least_battery_v = 3.0;

/// The trace smoothed, its range, and whether it begins at rest.
struct Shape {
    std::vector<float> smooth;
    std::size_t piece = 0;  ///< samples that are asked for rest
    double lowest = 0;
    double highest = 0;
    std::optional<double> rest;
};

/// Empty `smooth` when the trace is too short to tell anything.
Shape shape_of(std::span<const float> values, double rate_hz) {
    Shape shape;
    const auto window = static_cast<std::size_t>(std::max(1.0, smoothing_s * rate_hz));
    shape.piece = static_cast<std::size_t>(std::max(3.0, rest_s * rate_hz));
    if (values.size() < 4 * shape.piece) return shape;
    shape.smooth = signal::moving_mean(values, window);
    shape.lowest = signal::quantile(shape.smooth, 0.0005);
    shape.highest = signal::quantile(shape.smooth, 0.9995);
    const auto start = std::span<const float>(shape.smooth).first(shape.piece);
    const double spread = signal::width_of(start);
    if (spread < quiet_ratio * (shape.highest - shape.lowest)) shape.rest = signal::quantile(start, 0.5);
    return shape;
}

/// What is clearly above zero reaches this high; empty rest beside it does not count.
double usual_height(std::span<const double> values, double floor) {
    std::vector<float> above;
    for (const double v : values)
        if (v > floor) above.push_back(static_cast<float>(v));
    return above.empty() ? 0.0 : signal::quantile(above, 0.95);
}

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

/// Where the voltage lies for half of the time in which it dips, above zero on the side of its `whole` level.
double usual_in_dips(std::span<const float> smooth, double whole, double deepest) {
    std::vector<float> dips;
    for (const float v : smooth)
        if (std::abs(static_cast<double>(v) - whole) > dipping_ratio * deepest) dips.push_back(v);
    const double usual = dips.empty() ? whole : signal::quantile(dips, 0.5);
    return whole < 0 ? -usual : usual;
}

/// Sags while cranking, undershoots at once on release, and recovers.
bool sags_and_undershoots(std::span<const double> load, double clear, double rate_hz) {
    const auto samples = [rate_hz](double s) { return static_cast<std::size_t>(s * rate_hz); };
    const auto below = std::find_if(load.begin(), load.end(), [&](double v) { return v < -clear; });
    const auto end = static_cast<std::size_t>(below - load.begin());
    const std::size_t third = end / 3;
    // The edge itself is smoothed over; what follows must last for as long again. At a few samples a second
    // that is none.
    if (third == 0 || below == load.end() || load.size() < end + 4 * samples(smoothing_s)) return false;
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
    const Shape shape = shape_of(values, rate_hz);
    const std::vector<float>& smooth = shape.smooth;
    if (smooth.empty()) return found;
    const bool rests = shape.rest.has_value();
    found.level = shape.rest.value_or(0.0);
    found.sign = shape.highest - found.level > found.level - shape.lowest ? 1 : -1;
    std::vector<double> load;
    load.reserve(smooth.size());
    for (const float v : smooth) load.push_back(found.sign * (static_cast<double>(v) - found.level));
    // The inrush comes first; a later hump may be as high, and is none.
    const double top = *std::max_element(load.begin(), load.end());
    const auto engaged =
        std::find_if(load.begin(), load.end(), [&](double v) { return v > engaged_ratio * top; });
    if (engaged == load.end()) return found;  // all of it is zero
    const auto first = static_cast<std::size_t>(engaged - load.begin());
    const std::size_t from = std::min(load.size(), first + static_cast<std::size_t>(inrush_s * rate_hz));
    const double inrush = *std::max_element(engaged, load.begin() + static_cast<std::ptrdiff_t>(from));
    const std::size_t begin = rests ? from : 0;
    const auto longest = static_cast<std::size_t>(longest_look_s * rate_hz);
    const auto later = std::span<const double>(load).subspan(begin, std::min(longest, load.size() - begin));
    if (later.size() < shape.piece) return found;
    const double usual = usual_height(later, floor_ratio * top);
    const double clear = clear_ratio * usual;
    if (!(usual > 0)) return found;
    const bool swings = changes_of_side(later, clear) >= fewest_changes;
    found.zero_lost =
        rests ? (swings && inrush > inrush_over_swing * usual) || sags_and_undershoots(later, clear, rate_hz)
              : swings;
    return found;
}

Coupling find_voltage_coupling(std::span<const float> values, double rate_hz, bool in_volts) {
    Coupling found;
    const Shape shape = shape_of(values, rate_hz);
    const double range = shape.highest - shape.lowest;
    if (shape.smooth.empty() || !(range > 0)) return found;
    const bool through_zero = std::min(-shape.lowest, shape.highest) > through_zero_ratio * range;
    // Through a high-pass the battery's voltage sinks from the first sample on, and no rest is seen.
    const double whole = shape.rest.value_or(shape.highest > -shape.lowest ? shape.highest : shape.lowest);
    const double down = whole - shape.lowest;
    const double up = shape.highest - whole;
    const double dip = std::max(up, down);
    if (shape.rest) {
        found.level = whole;
        found.sign = up > down ? -1 : 1;
    }
    const bool sinks = usual_in_dips(shape.smooth, whole, dip) < least_cranking_ratio * std::abs(whole);
    const bool too_little = in_volts && std::max(shape.highest, -shape.lowest) < least_battery_v;
    found.zero_lost = through_zero || too_little || sinks || (shape.rest && std::abs(found.level) < dip);
    return found;
}

}  // namespace evenstroke::trace
