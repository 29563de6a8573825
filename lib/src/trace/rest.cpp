#include "rest.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "signal/levels.hpp"

namespace evenstroke::trace {

namespace {

/// Length of the pieces at either end that are asked whether they are quiet.
constexpr double end_piece_s = 0.08;

/// A quiet piece also varies less than this share of what the channel does for most of the time, beside which
/// an inrush makes any ripple small; noise of this share of the range is quiet all the same.
constexpr double quiet_of_usual = 0.5;
constexpr double noise_ratio = 0.02;
/// A quiet piece lies at least this share of the range away from where the channel spends most of its busy
/// time.
constexpr double apart_ratio = 0.12;
/// … or lasts so many times as long as any pause near its level while the starter turns: with three cylinders
/// and a geared starter the load falls to almost nothing after each compression.
constexpr double longer_than_pauses = 2;
/// A level half way to another is told from it when it is so many widths of the noise away.
constexpr double clear_of_noise = 2;
/// Rest before and after differ by drift only: less than this share of the range.
constexpr double same_rest_ratio = 0.08;
/// Of two quiet ends that differ, the later is rest where the earlier ripples, beyond noise, and it varies so
/// much less; else the earlier is: after a start a clamp may show the battery being charged.
constexpr double much_quieter_ratio = 0.5;
/// … but where one of them lies within this share of the range from zero and the other farther than that, the
/// first is rest: a clamp's zero may be off by some amperes, not by a starter's load.
constexpr double zero_ratio = 0.1, far_ratio = 0.4;
/// Excursions beyond this share of the largest one count as "the starter turns".
constexpr double active_ratio = 0.1;

double middle_of(std::span<const float> values) {
    return signal::quantile(values, 0.5);
}

std::optional<double> quiet_level(std::span<const float> piece, double widest) {
    if (piece.size() < 3 || signal::width_of(piece) > widest) return std::nullopt;
    return middle_of(piece);
}

/// Whether one of the runs that begin or end `values` near `level` is longer than all pauses near it between
/// them.
bool outlasts_pauses(std::span<const float> values, double level, double near) {
    std::optional<std::size_t> first;
    std::size_t run = 0, longest = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        if (std::abs(static_cast<double>(values[i]) - level) < near) {
            ++run;
            continue;
        }
        if (!first)
            first = run;
        else
            longest = std::max(longest, run);
        run = 0;
    }
    return static_cast<double>(std::max(first.value_or(0), run)) >
           longer_than_pauses * static_cast<double>(longest);
}

/// Median of the samples from the first to the last that are clearly away from `level`.
double active_level(std::span<const float> values, double level, double extreme) {
    const auto busy = [&](float v) {
        const double excursion = static_cast<double>(v) - level;
        return excursion * extreme > 0 && std::abs(excursion) > active_ratio * std::abs(extreme);
    };
    const auto first = std::find_if(values.begin(), values.end(), busy);
    const auto last = std::find_if(values.rbegin(), values.rend(), busy).base();
    return first < last ? middle_of({first, last}) : level;
}

}  // namespace

Rest find_rest(std::span<const float> values, double rate_hz) {
    // A short mean keeps single spikes from setting the range.
    const auto window = static_cast<std::size_t>(std::max(1.0, 0.002 * rate_hz));
    const std::vector<float> smooth = signal::moving_mean(values, window);
    const double lowest = signal::quantile(smooth, 0.0005);
    const double highest = signal::quantile(smooth, 0.9995);
    const double range = highest - lowest;

    Rest rest;
    const std::size_t piece =
        std::min(values.size() / 4, static_cast<std::size_t>(std::max(3.0, end_piece_s * rate_hz)));
    const double widest =
        std::clamp(quiet_of_usual * signal::width_of(smooth), noise_ratio * range, quiet_ratio * range);
    rest.before = quiet_level(std::span(smooth).first(piece), widest);
    rest.after = quiet_level(std::span(smooth).last(piece), widest);
    rest.active = middle_of(smooth);
    if (!(range > 0)) return rest;

    const auto settle = [&](std::optional<double>& end, std::span<const float> piece_values) {
        if (!end) return;
        const double extreme = highest - *end > *end - lowest ? highest - *end : lowest - *end;
        const double apart = std::abs(active_level(smooth, *end, extreme) - *end);
        if (apart >= apart_ratio * range) return;
        if (outlasts_pauses(smooth, *end, quiet_ratio * range)) return;
        // Beside a great inrush the coasting starter of one or two cylinders draws little, but not nothing.
        const double halfway = apart / 2;
        if (halfway < clear_of_noise * signal::width_of(piece_values) ||
            !outlasts_pauses(smooth, *end, halfway))
            end.reset();
    };
    settle(rest.before, std::span(smooth).first(piece));
    settle(rest.after, std::span(smooth).last(piece));
    // Cranking that goes on at one end can pause between two compressions, or hardly ripple, and look quiet;
    // rest is quieter.
    if (rest.before && rest.after && std::abs(*rest.after - *rest.before) > same_rest_ratio * range) {
        const double before_width = signal::width_of(std::span(smooth).first(piece));
        const double after_width = signal::width_of(std::span(smooth).last(piece));
        const auto at_zero = [range](double level) { return std::abs(level) < zero_ratio * range; };
        const auto far = [range](double level) { return std::abs(level) > far_ratio * range; };
        const bool quieter =
            before_width > noise_ratio * range && after_width < much_quieter_ratio * before_width;
        const bool after_is_rest = (at_zero(*rest.after) && far(*rest.before)) ||
                                   (quieter && !(at_zero(*rest.before) && far(*rest.after)));
        (after_is_rest ? rest.before : rest.after).reset();
    }
    if (rest.known()) {
        const double level = rest.level();
        rest.extreme = highest - level > level - lowest ? highest - level : lowest - level;
        rest.active = active_level(smooth, level, rest.extreme);
    } else {
        rest.extreme = rest.active > 0 ? highest : lowest;
    }
    return rest;
}

}  // namespace evenstroke::trace
