#include "edges.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>

#include "signal/levels.hpp"

namespace evenstroke::signal {

namespace {

/// The window over which centre and amplitude are taken, seconds: longer than a missing-tooth gap at 60 rpm,
/// shorter than the time in which cranking speed, hence the amplitude, changes much.
constexpr double window_s = 0.2;
/// Hysteresis as a share of the local root mean square: 0.28 of a sine's amplitude.
constexpr double hysteresis_of_rms = 0.4;
/// The least hysteresis, as a share of the whole swing: a quiet sensor's noise at standstill stays below it.
constexpr double hysteresis_of_swing = 0.03;
/// Where the signal is this many times quieter than where it is loud, and shows no regular teeth, it is noise
/// at standstill …
constexpr double noise_ratio = 5.0;
/// … and the hysteresis at least this multiple of its root mean square: normal noise goes beyond it once in
/// 150 000 samples …
constexpr double hysteresis_of_noise = 4.5;
/// … but no more than this share of the loud part's, half of a sine's amplitude: teeth at half speed remain.
constexpr double most_of_loud = 0.75;
/// The loud part's power is that which only this share of the recording stays below.
constexpr double loud_quantile = 0.95;
/// Crossings follow one another at an even pace, as teeth do, when so many of the periods differ by less than
/// this from the one before; noise reaches a third.
constexpr double regular_share = 0.6;
constexpr double regular_log_ratio = 0.35;
/// A step between two samples of more than this share of the range is no tooth but a wrapped converter.
constexpr double wrap_step_of_range = 0.6;
/// How close to the rail the value before a wrap is, share of the range.
constexpr double rail_of_range = 0.25;

/// Levels and swing are told without so large a share of the samples at either end: single spikes.
constexpr double outlier_share = 0.001;
/// A level lies this near the outermost samples (share of their distance), noise of a tenth of it included.
constexpr double level_from_outer = 0.2;
/// Samples lie on a level when they are no further than this inside it (share of the height between the
/// levels). A sine spends 0.7 of its time there, seen from the means of its two halves …
constexpr double level_width = 0.15;
/// … and two levels more than this, edges of some samples included.
constexpr double least_on_levels = 0.9;

struct Range {
    double low = 0;
    double high = 0;
};

Range range_of(std::span<const float> values) {
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    return {static_cast<double>(*low), static_cast<double>(*high)};
}

/// A converter driven past its range may show the other rail. Such a run is short, begins and ends with a
/// step through most of the range, and starts next to a rail; it is replaced by the value before it.
std::vector<double> without_wraps(std::span<const float> values, double rate_hz) {
    std::vector<double> kept(values.begin(), values.end());
    const Range range = range_of(values);
    const double step = wrap_step_of_range * (range.high - range.low);
    const double rail = rail_of_range * (range.high - range.low);
    const auto longest = static_cast<std::size_t>(std::max(2.0, 0.0015 * rate_hz));
    for (std::size_t i = 1; i < kept.size(); ++i) {
        const double jump = kept[i] - kept[i - 1];
        const bool at_rail = jump < 0 ? kept[i - 1] > range.high - rail : kept[i - 1] < range.low + rail;
        if (std::abs(jump) < step || !at_rail) continue;
        for (std::size_t back = i + 1; back < std::min(kept.size(), i + 1 + longest); ++back) {
            const double there = kept[back] - kept[back - 1];
            if (std::abs(there) < step || there * jump > 0) continue;
            std::fill(kept.begin() + static_cast<std::ptrdiff_t>(i),
                      kept.begin() + static_cast<std::ptrdiff_t>(back), kept[i - 1]);
            i = back;
            break;
        }
    }
    return kept;
}

/// The two levels that nearly all samples lie near, as a Hall sensor's do; none for any other signal. The
/// levels are means, so noise on them does not count as lying beside them.
std::optional<Range> levels_of(std::span<const float> values) {
    const Range outer = {quantile(values, outlier_share), quantile(values, 1 - outlier_share)};
    const double middle = (outer.low + outer.high) / 2;
    double low_sum = 0;
    double high_sum = 0;
    std::size_t high_count = 0;
    for (const float v : values) {
        const auto value = static_cast<double>(v);
        (value > middle ? high_sum : low_sum) += value;
        high_count += value > middle ? 1 : 0;
    }
    const std::size_t low_count = values.size() - high_count;
    if (low_count == 0 || high_count == 0) return {};
    const Range mean = {low_sum / static_cast<double>(low_count), high_sum / static_cast<double>(high_count)};
    const double most_off = level_from_outer * (outer.high - outer.low);
    if (mean.low - outer.low > most_off || outer.high - mean.high > most_off) return {};
    const double near = level_width * (mean.high - mean.low);
    const auto count = std::count_if(values.begin(), values.end(), [&](float v) {
        const auto value = static_cast<double>(v);
        return value < mean.low + near || value > mean.high - near;
    });
    if (static_cast<double>(count) < least_on_levels * static_cast<double>(values.size())) return {};
    return mean;
}

/// Mean over a centred window, from running sums.
std::vector<double> running_mean(std::span<const double> values, std::size_t half) {
    std::vector<double> sums(values.size() + 1, 0.0);
    for (std::size_t i = 0; i < values.size(); ++i) sums[i + 1] = sums[i] + values[i];
    std::vector<double> means(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const std::size_t first = i > half ? i - half : 0;
        const std::size_t last = std::min(values.size(), i + half + 1);
        means[i] = (sums[last] - sums[first]) / static_cast<double>(last - first);
    }
    return means;
}

/// Crossings of zero that go beyond the hysteresis: a share of the local root mean square, `least` at least.
std::vector<Edge> crossings_of(std::span<const double> x, std::span<const double> power, double least,
                               double rate_hz, double start_s) {
    std::vector<Edge> edges;
    int state = 0;        // -1 below, 1 above, 0 not yet known
    double crossing = 0;  // last crossing in samples since the state was left
    for (std::size_t i = 0; i < x.size(); ++i) {
        if (i > 0 && (x[i - 1] < 0) != (x[i] < 0))
            crossing = static_cast<double>(i - 1) + x[i - 1] / (x[i - 1] - x[i]);
        const double hysteresis = std::max(hysteresis_of_rms * std::sqrt(power[i]), least);
        const int now = x[i] > hysteresis ? 1 : x[i] < -hysteresis ? -1 : 0;
        if (now == 0 || now == state) continue;
        if (state != 0) edges.push_back({start_s + crossing / rate_hz, now > 0});
        state = now;
    }
    return edges;
}

/// Whether the rising edges follow one another at an even pace.
bool regular(std::span<const Edge> edges) {
    std::size_t alike = 0;
    std::size_t compared = 0;
    for (std::size_t i = 4; i < edges.size(); ++i) {
        if (!edges[i].rising) continue;
        const double period = edges[i].time_s - edges[i - 2].time_s;
        const double before = edges[i - 2].time_s - edges[i - 4].time_s;
        ++compared;
        if (std::abs(std::log(period / before)) < regular_log_ratio) ++alike;
    }
    return static_cast<double>(alike) > regular_share * static_cast<double>(compared);
}

/// The hysteresis that keeps the noise of a standing sensor from being taken for teeth; 0 where the signal is
/// never that quiet, or where its quietest part shows teeth.
double above_noise(std::span<const double> x, std::span<const double> power, std::size_t half,
                   double rate_hz) {
    const std::vector<float> powers(power.begin(), power.end());
    const double loud = std::sqrt(quantile(powers, loud_quantile));
    const auto at = static_cast<std::size_t>(std::min_element(power.begin(), power.end()) - power.begin());
    const double quiet = std::sqrt(power[at]);
    if (!(quiet * noise_ratio < loud)) return 0;
    const std::size_t first = at > half ? at - half : 0;
    const std::size_t count = std::min(x.size(), at + half + 1) - first;
    const std::vector<double> even(count, power[at]);
    if (regular(crossings_of(x.subspan(first, count), even, 0, rate_hz, 0))) return 0;
    return std::min(hysteresis_of_noise * quiet, most_of_loud * loud);
}

}  // namespace

std::vector<Edge> without_bounce(std::span<const Edge> edges, double shortest_s) {
    std::vector<Edge> kept;
    kept.reserve(edges.size());
    for (const Edge& edge : edges) {
        if (!kept.empty() && edge.time_s - kept.back().time_s < shortest_s)
            kept.pop_back();
        else if (kept.empty() || kept.back().rising != edge.rising)
            kept.push_back(edge);
    }
    return kept;
}

bool bounces(std::span<const Edge> edges, double shortest_s) {
    const auto spoilt = [shortest_s](const Edge& a, const Edge& b) {
        return b.time_s - a.time_s < shortest_s || a.rising == b.rising;
    };
    return std::adjacent_find(edges.begin(), edges.end(), spoilt) != edges.end();
}

std::vector<Edge> find_edges(std::span<const float> values, double rate_hz, double start_s) {
    if (values.size() < 3) return {};
    // A narrow tooth of two levels begins and ends with steps from rail to rail, as a wrapped converter does.
    const std::optional<Range> levels = levels_of(values);
    std::vector<double> x =
        levels ? std::vector<double>(values.begin(), values.end()) : without_wraps(values, rate_hz);
    const Range range = levels.value_or(range_of(values));
    if (!(range.high > range.low)) return {};
    const auto half = static_cast<std::size_t>(std::max(1.0, window_s * rate_hz / 2));
    // The integral of a variable-reluctance signal is the flux, which returns: its true zero is its mean.
    const std::vector<double> centre =
        levels ? std::vector<double>(x.size(), (range.low + range.high) / 2) : running_mean(x, half);
    std::vector<double> squares(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        x[i] -= centre[i];
        squares[i] = x[i] * x[i];
    }
    const std::vector<double> power = running_mean(squares, half);

    const double swing = quantile(values, 1 - outlier_share) - quantile(values, outlier_share);
    double least = hysteresis_of_swing * swing;
    if (!levels) least = std::max(least, above_noise(x, power, half, rate_hz));
    return crossings_of(x, power, least, rate_hz, start_s);
}

}  // namespace evenstroke::signal
