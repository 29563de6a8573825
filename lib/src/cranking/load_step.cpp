#include "load_step.hpp"

#include <algorithm>
#include <cmath>

#include "signal/levels.hpp"
#include "signal/periodicity.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::cranking {

namespace {

/// A contact opens at once; so much of the drop lies within this time, the smoothing's included. The load of
/// a starter that an engine outruns takes ten times as long.
constexpr double edge_s = 0.02;
constexpr double edge_share = 0.6;
/// The edge is looked for so far about where the load left its range.
constexpr double reach_s = 0.06;
/// Less than this behind the edge tells nothing.
constexpr double least_after_s = 0.15;
/// The humps go on: they swing by this share of what they did before, and repeat after the same time, give or
/// take a tenth, this well.
constexpr double same_swing_share = 0.5, same_period_share = 0.1, least_correlation = 0.5;
/// No humps are left: it swings by no more than this share.
constexpr double gone_swing_share = 0.1;

/// A consumer's edge is so much steeper than the flanks of the humps, and such a share of the load; a smaller
/// one moves the humps less than the model's own error.
constexpr double stands_out_ratio = 1.3, least_consumer_share = 0.15;

/// The place from which the load falls most within `edge` samples.
std::size_t steepest(std::span<const float> smooth, std::size_t from, std::size_t to, std::size_t edge) {
    std::size_t best = from;
    const auto fall = [&](std::size_t i) { return smooth[i] - smooth[i + edge]; };
    for (std::size_t i = from; i + edge < to; ++i)
        if (fall(i) > fall(best)) best = i;
    return best;
}

/// Whether `after` repeats when `before` does.
bool as_often(std::span<const float> before, std::span<const float> after, double rate_hz) {
    const double longest_s =
        std::min(longest_repeat_s, static_cast<double>(after.size()) / rate_hz / 2 / (1 + same_period_share));
    const auto usual = signal::strongest_repeat(before, rate_hz, shortest_event_s, longest_s);
    if (!usual || usual->correlation < least_correlation) return false;
    const auto now = signal::strongest_repeat(after, rate_hz, (1 - same_period_share) * usual->period_s,
                                              (1 + same_period_share) * usual->period_s);
    return now && now->correlation >= least_correlation;
}

std::size_t samples_of(double seconds, double rate_hz) {
    return static_cast<std::size_t>(std::ceil(seconds * rate_hz));
}

/// The step whose edge begins at `at`, if it is one.
std::optional<LoadStep> step_at(std::span<const float> smooth, double rate_hz, std::size_t at) {
    const std::size_t edge = samples_of(edge_s, rate_hz);
    const auto after = smooth.subspan(at + edge);
    if (after.size() < samples_of(least_after_s, rate_hz) || at < after.size() / 2) return std::nullopt;
    const auto before = smooth.first(at).last(std::min(at, 2 * after.size()));
    const double swing = signal::width_of(before);
    const double after_swing = signal::width_of(after);
    const bool goes_on = after_swing > same_swing_share * swing && as_often(before, after, rate_hz);
    if (!goes_on && !(after_swing < gone_swing_share * swing)) return std::nullopt;
    // A release may come on a hump or between two; a consumer takes as much of both.
    const double from = goes_on ? signal::quantile(before, 0.5) : static_cast<double>(smooth[at]);
    const double drop = from - signal::quantile(after, 0.5);
    const bool at_once = static_cast<double>(smooth[at] - smooth[at + edge]) > edge_share * drop;
    if (!at_once || !(drop > 0)) return std::nullopt;
    return LoadStep{.at = at, .drop = drop, .starter_on = goes_on};
}

}  // namespace

std::optional<LoadStep> find_step(std::span<const float> smooth, double rate_hz, std::size_t leaves) {
    const std::size_t reach = samples_of(reach_s, rate_hz), edge = samples_of(edge_s, rate_hz);
    const std::size_t from = leaves - std::min(leaves, reach);
    const std::size_t to = std::min(smooth.size(), leaves + reach);
    if (from + edge >= to) return std::nullopt;
    return step_at(smooth, rate_hz, steepest(smooth, from, to, edge));
}

std::optional<LoadStep> find_switch_off(std::span<const float> smooth, double rate_hz) {
    const std::size_t reach = samples_of(reach_s, rate_hz), edge = samples_of(edge_s, rate_hz);
    const std::size_t last = smooth.size() - std::min(smooth.size(), samples_of(least_after_s, rate_hz));
    if (last < 2 * (edge + reach)) return std::nullopt;
    const std::size_t at = steepest(smooth, 0, last, edge);
    const auto fall = [&](std::size_t i) { return static_cast<double>(smooth[i] - smooth[i + edge]); };
    for (std::size_t i = 0; i + edge < last; ++i)
        if ((i + reach < at || i > at + reach) && fall(at) < stands_out_ratio * fall(i)) return std::nullopt;
    const auto step = step_at(smooth, rate_hz, at);
    const bool large =
        step && step->starter_on && step->drop > least_consumer_share * signal::quantile(smooth, 0.5);
    return large ? step : std::nullopt;
}

}  // namespace evenstroke::cranking
