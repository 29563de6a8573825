#include "load_end.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

#include "load_levels.hpp"
#include "load_step.hpp"
#include "signal/levels.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::cranking {

namespace {

/// A release takes the load away within this time, clamp and filter included; slower is an engine that runs.
constexpr double release_s = 0.06;
/// Load below this share of the usual one is none.
constexpr double dead_ratio = 0.12;
/// A battery recovers most of its dip with the current and the rest over about a second (polarisation). To
/// see the current's end in it, this share of the dip, lagging by that time, is taken off; batteries differ,
/// so a released load may leave more behind (common practice, no published source; the figures from memory).
constexpr double polarisation_share = 0.25;
constexpr double polarisation_s = 0.8;
constexpr double dead_dip_ratio = 0.2;
/// What flows after the burst is looked at for so long.
constexpr double behind_s = 0.5;
/// Load below this share of the lowest settled trough is no ordinary cranking …
constexpr double below_trough_ratio = 0.9;
/// … when from there on it also averages less than this share of the usual load.
constexpr double collapsed_ratio = 0.75;

/// A running engine leaves the starter idling: the load stays below this share of the humps' height for this
/// many times as long as it did at most between two compressions, and so much more.
constexpr double hump_foot_ratio = 0.3;
constexpr double longer_ratio = 2;
constexpr double shortest_idle_s = 0.08;
/// … and there the humps are gone: it swings, the slope taken off, by less than this share of what it did for
/// as long before. A load that merely drifts down keeps them.
constexpr double idle_swing_share = 0.5;

/// The first firings lower the troughs by this share, within this time before the load collapses.
constexpr double firing_trough_ratio = 0.97;
constexpr double firing_s = 0.5;

/// A voltage's dip without the part that lags behind the current.
std::vector<float> without_polarisation(const LoadView& view) {
    std::vector<float> fast(view.load.begin(), view.load.end());
    const double step = 1 - std::exp(-1 / (polarisation_s * view.rate_hz));
    double lagging = 0;
    for (float& dip : fast) {
        lagging += step * (static_cast<double>(dip) - lagging);
        dip -= static_cast<float>(polarisation_share * lagging);
    }
    return fast;
}

/// Time that the load takes from `from` on to die away to `dead`; the rest of the recording when it never
/// does.
double fall_s(const LoadView& view, std::size_t from, double dead) {
    std::size_t i = from;
    while (i < view.load.size() && static_cast<double>(view.load[i]) > dead) ++i;
    return static_cast<double>(i - from) / view.rate_hz;
}

/// The first sample from which the load stays clear of what settled cranking does: below its lowest trough,
/// and much lower on average from there on. The size of `smooth` when there is none.
std::size_t leaves_range(std::span<const float> smooth) {
    // The earlier part of the burst tells what cranking never falls below.
    const auto earlier = smooth.first(smooth.size() * 3 / 5 + 1);
    const double floor = below_trough_ratio * signal::quantile(earlier, 0.005);
    const double usual = signal::quantile(earlier, 0.5);
    std::vector<double> after(smooth.size() + 1, 0.0);
    for (std::size_t i = smooth.size(); i > 0; --i)
        after[i - 1] = after[i] + static_cast<double>(smooth[i - 1]);
    for (std::size_t i = earlier.size() - 1; i < smooth.size(); ++i)
        if (static_cast<double>(smooth[i]) < floor &&
            after[i] < collapsed_ratio * usual * static_cast<double>(smooth.size() - i))
            return i;
    return smooth.size();
}

/// How far before the end of `smooth`, at most `reach` samples, the load first fell below the lowest trough
/// of cranking: the first firing shows there, before the collapse.
std::size_t below_usual(std::span<const float> smooth, std::size_t reach) {
    const double trough = signal::quantile(smooth.first(smooth.size() * 3 / 5 + 1), 0.005);
    const std::size_t first = smooth.size() - std::min(reach, smooth.size());
    for (std::size_t i = first; i < smooth.size(); ++i)
        if (static_cast<double>(smooth[i]) < firing_trough_ratio * trough) return smooth.size() - 1 - i;
    return 0;
}

/// Swing of the middle 90 % of `piece` about the straight line through its halves.
double swing_of(std::span<const float> piece) {
    const std::size_t half = piece.size() / 2;
    if (half == 0) return 0;
    const double first = signal::quantile(piece.first(half), 0.5),
                 last = signal::quantile(piece.last(half), 0.5);
    std::vector<float> flat(piece.begin(), piece.end());
    for (std::size_t i = 0; i < flat.size(); ++i)
        flat[i] -= static_cast<float>((last - first) * static_cast<double>(i) / static_cast<double>(half));
    return signal::width_of(flat);
}

/// Whether the humps go on in the last `run` samples: they swing there about as far as for as long before.
bool humps_go_on(std::span<const float> smooth, std::size_t run) {
    const std::size_t before = smooth.size() - run;
    // The first part of the run is the flank down; and two pieces before it are the least that tell.
    const std::size_t length = std::min(run - run / 5, before / 2);
    if (length == 0) return false;
    std::vector<double> swings;
    for (std::size_t end = before; end >= length; end -= length)
        swings.push_back(swing_of(smooth.subspan(end - length, length)));
    return swing_of(smooth.last(length)) > idle_swing_share * signal::median(swings);
}

/// Samples from the last hump's flank to the end of `smooth`, where the load has stayed among its troughs for
/// longer than it ever did before: the engine runs by itself, and the key was let go later. 0 when it has
/// not.
std::size_t stays_down(std::span<const float> smooth, std::size_t least) {
    const auto earlier = smooth.first(smooth.size() * 3 / 5 + 1);
    const double low = signal::quantile(earlier, 0.05);
    const double swing = signal::quantile(earlier, 0.95) - low;
    if (!(swing > flat_ratio * signal::quantile(earlier, 0.5))) return 0;  // no humps to miss
    const double middle = low + hump_foot_ratio * swing;
    std::size_t usual = 0;
    std::size_t run = 0;
    for (std::size_t i = 0; i < smooth.size(); ++i) {
        run = static_cast<double>(smooth[i]) < middle ? run + 1 : 0;
        if (i < earlier.size()) usual = std::max(usual, run);
    }
    const bool longer =
        static_cast<double>(run) > longer_ratio * static_cast<double>(usual) + static_cast<double>(least);
    return longer && !humps_go_on(smooth, run) ? run : 0;
}

/// Whether the load falls at about `at` after `settled` to what another consumer goes on drawing.
bool let_go(const LoadView& view, std::size_t settled, std::size_t burst_end, std::size_t at) {
    const std::size_t end = std::min(view.load.size(), burst_end + view.samples(behind_s));
    const auto smooth = signal::moving_mean(view.load.subspan(settled, end - settled), view.samples(0.01));
    const auto step = find_step(smooth, view.rate_hz, at);
    return step && !step->starter_on;
}

/// The end of what another consumer, switched off while the starter turns on, leaves usable. The load with
/// and without it settles at no one level, so it is looked for from the inrush on.
std::optional<UsableEnd> switched_off(const LoadView& view, const Span& burst) {
    const std::size_t first = std::min(burst.last, burst.first + view.samples(shortest_run_up_s));
    const auto smooth = signal::moving_mean(view.load.subspan(first, burst.last - first), view.samples(0.01));
    const auto off = find_switch_off(smooth, view.rate_hz);
    if (!off) return std::nullopt;
    const bool recorded = burst.last < view.load.size();
    return UsableEnd{view.time_s(first + off->at),
                     recorded ? CrankingEnd::release : CrankingEnd::recording_end, off->drop};
}

/// The load is dead below `dead_share` of the usual one.
UsableEnd find_end(const LoadView& view, const Span& burst, std::size_t settled, double dead_share) {
    const auto body = view.load.subspan(settled, burst.last - settled);
    const std::vector<float> smooth = signal::moving_mean(body, view.samples(0.01));
    if (const auto off = switched_off(view, burst)) return *off;
    const std::size_t leaves = leaves_range(smooth);
    const double usual = signal::quantile(smooth, 0.5);
    const std::size_t until = std::min(leaves, smooth.size());
    const std::size_t down = stays_down(std::span(smooth).first(until), view.samples(shortest_idle_s));
    const bool cut_off = leaves == smooth.size() && burst.last == view.load.size();
    if (cut_off && down == 0) return {view.time_s(burst.last), CrankingEnd::recording_end};
    const std::size_t step = view.samples(0.01);
    const auto crest_before = [&](std::size_t at) {
        while (at > step && smooth[at - step] > smooth[at]) at -= step;
        return at;
    };
    const bool at_once =
        fall_s(view, settled + std::min(leaves, smooth.size() - 1), dead_share * usual) < release_s;
    if (at_once && down == 0) return {view.time_s(settled + until), CrankingEnd::release};
    if (down == 0 && let_go(view, settled, burst.last, until))
        return {view.time_s(settled + until), CrankingEnd::release};
    // Back up the falling flank to the last crest: of the compression that fired, or where the key was
    // released.
    if (at_once || cut_off)
        return {view.time_s(settled + crest_before(until - down)), CrankingEnd::engine_start};
    const std::size_t last = std::min(leaves, smooth.size() - 1);
    const std::size_t fired = below_usual(std::span(smooth).first(last + 1), view.samples(firing_s));
    return {view.time_s(settled + crest_before(last - std::min(last, fired))), CrankingEnd::engine_start};
}

}  // namespace

UsableEnd end_of_load(const LoadView& view, const Span& burst, std::size_t settled, Quantity quantity) {
    if (quantity != Quantity::voltage) return find_end(view, burst, settled, dead_ratio);
    const std::vector<float> fast = without_polarisation(view);
    return find_end({fast, view.rate_hz, view.start_s}, burst, settled, dead_dip_ratio);
}

}  // namespace evenstroke::cranking
