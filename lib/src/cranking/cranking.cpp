#include "evenstroke/cranking.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "load_signal.hpp"
#include "signal/levels.hpp"
#include "signal/periodicity.hpp"
#include "values/words.hpp"
#include "wheel_cranking.hpp"

namespace evenstroke {

namespace {

/// A starter draws at least this share of the usual cranking load, even while it coasts between two
/// compressions.
constexpr double engaged_ratio = 0.25;
/// A starter that coasts between humps, of which there are at least so many, draws at least this share of the
/// usual load more than rest, as it is for this time at either end of the recording.
constexpr std::size_t fewest_coasting_humps = 3;
constexpr double rest_clear_ratio = 0.1;
constexpr double rest_piece_s = 0.08;
/// Behind its last hump it coasts for so many of the longest pauses at most.
constexpr double coasting_end_pauses = 1.5;
/// The load is smoothed over this time before bursts are looked for; a coasting dip is no pause.
constexpr double smoothing_s = 0.06;
/// Pauses shorter than this belong to one burst.
constexpr double pause_s = 0.25;
/// However long the recording, its highest level lasts at least half as long as the shortest burst.
constexpr double least_cranking_s = 0.2;
/// The inrush was recorded when at least so much of rest was seen before it.
constexpr double least_rest_s = 0.005;
/// A burst shorter than this holds no settled cycle.
constexpr double shortest_burst_s = 0.4;
/// The run-up lasts at least this long: the starter's own inrush.
constexpr double shortest_run_up_s = 0.3;
/// The load has settled when its mean over whole repeats is within this share of the later level.
constexpr double settled_ratio = 0.06;
/// Longest and shortest repeat sought in the load: 16 cylinders at 450 rpm to one cylinder at 50 rpm.
constexpr double shortest_repeat_s = 0.016;
constexpr double longest_repeat_s = 2.4;
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
/// Load below this share of the lowest settled trough is no ordinary cranking …
constexpr double below_trough_ratio = 0.9;
/// … when from there on it also averages less than this share of the usual load.
constexpr double collapsed_ratio = 0.75;

/// A running engine leaves the starter idling: the load stays below this share of the humps' height for this
/// many times as long as it did at most between two compressions, and so much more.
constexpr double hump_foot_ratio = 0.3;
constexpr double longer_ratio = 2;
constexpr double shortest_idle_s = 0.08;

/// The first firings lower the troughs by this share, within this time before the load collapses.
constexpr double firing_trough_ratio = 0.97;
constexpr double firing_s = 0.5;

/// A load that swings less than this while the starter turns it shows no compression: on simulated engines of
/// up to twelve cylinders it is 7 % and more, with the plugs out 1 to 4 % of ripple and noise.
constexpr double flat_ratio = 0.05;
constexpr double swing_smoothing_s = 0.02;
constexpr double least_settled_s = 0.5;
/// A starter that never gets going keeps drawing this share of its inrush, or more.
constexpr double still_ratio = 0.85;

struct View {
    std::span<const float> load;
    double rate_hz;
    double start_s;
    [[nodiscard]] std::size_t samples(double seconds) const {
        return static_cast<std::size_t>(std::max(1.0, std::round(seconds * rate_hz)));
    }
    [[nodiscard]] double time_s(std::size_t i) const { return start_s + static_cast<double>(i) / rate_hz; }
};

/// The usual load while cranking: the median of what lies well above rest.
double cranking_level(const std::vector<float>& smooth, double rate_hz) {
    const double seconds = std::max(1.0, static_cast<double>(smooth.size()) / rate_hz);
    const double top = signal::quantile(smooth, std::max(0.98, 1 - least_cranking_s / seconds));
    std::vector<float> busy;
    for (const float v : smooth)
        if (static_cast<double>(v) > 0.2 * top) busy.push_back(v);
    return busy.empty() ? 0.0 : signal::quantile(busy, 0.5);
}

std::vector<Span> above(const std::vector<float>& smooth, double limit) {
    std::vector<Span> spans;
    for (std::size_t i = 0; i < smooth.size();) {
        if (!(static_cast<double>(smooth[i]) > limit)) {
            ++i;
            continue;
        }
        Span span{.first = i, .last = i};
        while (span.last < smooth.size() && static_cast<double>(smooth[span.last]) > limit) ++span.last;
        i = span.last;
        spans.push_back(span);
    }
    return spans;
}

/// A burst whose starter coasts between its humps, and the load above which it is engaged at the end.
struct Coasting {
    Span burst;
    double end_limit = 0;
};

/// Where one or two cylinders leave the starter to coast between two compressions, it draws far less than
/// over their humps, but not nothing: the humps are one burst when what flows in every pause lies clearly
/// above rest at either end of the recording.
std::optional<Coasting> coasting(const View& view, const std::vector<float>& smooth, double limit) {
    const std::vector<Span> humps = above(smooth, limit);
    if (humps.size() < fewest_coasting_humps) return std::nullopt;
    double lowest = limit;
    std::size_t longest_pause = 0;
    for (std::size_t k = 1; k < humps.size(); ++k) {
        const std::size_t pause = humps[k].first - humps[k - 1].last, hump = humps[k].last - humps[k].first;
        // One that could be a burst by itself, behind a shorter pause, is the starter used again, over
        // whatever else draws current.
        const bool again = hump >= view.samples(shortest_burst_s) && hump > pause;
        if (again || pause > view.samples(longest_repeat_s)) return std::nullopt;
        const auto between = std::span(smooth).subspan(humps[k - 1].last, pause);
        lowest = std::min(lowest, static_cast<double>(*std::min_element(between.begin(), between.end())));
        longest_pause = std::max(longest_pause, pause);
    }
    const std::size_t piece = std::min(smooth.size(), view.samples(rest_piece_s));
    const double rest = std::max(0.0, std::min(signal::quantile(std::span(smooth).first(piece), 0.5),
                                               signal::quantile(std::span(smooth).last(piece), 0.5)));
    if (!(lowest > rest + rest_clear_ratio * limit / engaged_ratio)) return std::nullopt;
    const double end_limit = (rest + lowest) / 2;
    const Span all{.first = humps.front().first, .last = humps.back().last};
    std::size_t released = all.last;
    while (released < smooth.size() && static_cast<double>(smooth[released]) > end_limit) ++released;
    // It coasts until the key is let go, but hardly longer than between two humps: another consumer does.
    if (static_cast<double>(released - all.last) > coasting_end_pauses * static_cast<double>(longest_pause))
        return Coasting{all, limit};
    return Coasting{{.first = all.first, .last = released}, end_limit};
}

std::vector<Span> find_bursts(const View& view, const std::vector<float>& smooth, double limit) {
    std::vector<Span> bursts;
    for (const Span& span : above(smooth, limit)) {
        if (!bursts.empty() && span.first - bursts.back().last < view.samples(pause_s))
            bursts.back().last = span.last;
        else
            bursts.push_back(span);
    }
    std::erase_if(bursts, [&](const Span& b) { return b.last - b.first < view.samples(shortest_burst_s); });
    return bursts;
}

/// The smoothing blurs the steep ends: move them to where the load itself passes the limits.
void sharpen(const View& view, Span& burst, double limit, double end_limit) {
    const std::size_t reach = view.samples(smoothing_s);
    std::size_t first = burst.first > reach ? burst.first - reach : 0;
    while (first < burst.last && !(static_cast<double>(view.load[first]) > limit)) ++first;
    std::size_t last = std::min(view.load.size(), burst.last + reach);
    while (last > first && !(static_cast<double>(view.load[last - 1]) > end_limit)) --last;
    burst = {.first = first, .last = last};
}

/// Where the load has come down to its settled mean.
std::size_t settle(const View& view, const Span& burst) {
    const std::size_t earliest = std::min(burst.last, burst.first + view.samples(shortest_run_up_s));
    const auto tail = view.load.subspan(earliest, burst.last - earliest);
    const auto repeat = signal::strongest_repeat(tail, view.rate_hz, shortest_repeat_s, longest_repeat_s);
    const std::size_t window = view.samples(repeat ? std::max(repeat->period_s, 0.25) : 0.5);
    if (tail.size() < 2 * window) return earliest;
    std::vector<double> sums(tail.size() + 1, 0.0);
    for (std::size_t i = 0; i < tail.size(); ++i) sums[i + 1] = sums[i] + static_cast<double>(tail[i]);
    const auto mean_from = [&](std::size_t i) {
        return (sums[i + window] - sums[i]) / static_cast<double>(window);
    };
    const std::size_t positions = tail.size() - window;
    const double later =
        (sums[tail.size()] - sums[tail.size() / 2]) / static_cast<double>(tail.size() - tail.size() / 2);
    std::size_t settled = 0;
    // A short recording that never quite settles keeps most of its cycles all the same.
    while (settled < positions / 3 && mean_from(settled) > later * (1 + settled_ratio)) ++settled;
    return earliest + settled;
}

/// A voltage's dip without the part that lags behind the current.
std::vector<float> without_polarisation(const View& view) {
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
double fall_s(const View& view, std::size_t from, double dead) {
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
    return static_cast<double>(run) > longer_ratio * static_cast<double>(usual) + static_cast<double>(least)
               ? run
               : 0;
}

/// The end of unfired cranking and its cause. A release drops the load at once; an engine that starts carries
/// the starter along, so that the load dies away over tenths of a second, and what counts ends before that
/// fall.
void find_end(const View& view, const Span& burst, std::size_t settled, double dead_share,
              Cranking& cranking) {
    const auto body = view.load.subspan(settled, burst.last - settled);
    const std::vector<float> smooth = signal::moving_mean(body, view.samples(0.01));
    const std::size_t leaves = leaves_range(smooth);
    const double usual = signal::quantile(smooth, 0.5);
    const std::size_t until = std::min(leaves, smooth.size());
    const std::size_t down = stays_down(std::span(smooth).first(until), view.samples(shortest_idle_s));
    const bool cut_off = leaves == smooth.size() && burst.last == view.load.size();
    if (cut_off && down == 0) {
        cranking.ended_by = CrankingEnd::recording_end;
        cranking.end_s = view.time_s(burst.last);
        return;
    }
    const std::size_t step = view.samples(0.01);
    const auto crest_before = [&](std::size_t at) {
        while (at > step && smooth[at - step] > smooth[at]) at -= step;
        return at;
    };
    const bool at_once =
        fall_s(view, settled + std::min(leaves, smooth.size() - 1), dead_share * usual) < release_s;
    if (at_once && down == 0) {
        cranking.ended_by = CrankingEnd::release;
        cranking.end_s = view.time_s(settled + until);
        return;
    }
    // Back up the falling flank to the last crest: of the compression that fired, or where the key was
    // released.
    cranking.ended_by = CrankingEnd::engine_start;
    if (at_once || cut_off) {
        cranking.end_s = view.time_s(settled + crest_before(until - down));
        return;
    }
    const std::size_t last = std::min(leaves, smooth.size() - 1);
    const std::size_t fired = below_usual(std::span(smooth).first(last + 1), view.samples(firing_s));
    cranking.end_s = view.time_s(settled + crest_before(last - std::min(last, fired)));
}

/// No starter turns an engine with so little; a motorcycle's takes some 20 A. The largest diesels' take some
/// 1000.
constexpr double least_mean_a = 5, most_mean_a = 2000;

void say_doubtful_scale(const Trace& trace, Cranking& cranking) {
    if (trace.quantity != Quantity::current || trace.unit != "A" || !cranking.mean_a) return;
    const double mean_a = std::abs(*cranking.mean_a);
    if (mean_a >= least_mean_a && mean_a <= most_mean_a) return;
    const bool little = mean_a < least_mean_a;
    cranking.notices.push_back(
        {"scale-doubtful",
         fmt::format("The current averages {} A while cranking, and {}: the scale looks wrong, as when the "
                     "{} of a clamp were "
                     "taken for amperes. Contributions do not depend on it; every figure in amperes or ohms "
                     "does. Give the amperes "
                     "per recorded unit with --scale.",
                     plain(*cranking.mean_a, 3),
                     little ? "a starter draws tens of amperes" : "no starter draws so much",
                     little ? "volts" : "millivolts")});
}

void measure_levels(const Trace& trace, const cranking::Load& load, const View& view, const Span& burst,
                    std::size_t settled, bool saw_inrush, Cranking& cranking) {
    if (trace.zero_lost) return;  // no level of it is one of the current or the battery
    const auto end =
        std::min(trace.values.size(),
                 static_cast<std::size_t>(std::max(0.0, (cranking.end_s - trace.start_s) * trace.rate_hz)));
    double sum = 0;
    for (std::size_t i = settled; i < end; ++i) sum += static_cast<double>(trace.values[i]);
    const std::optional<double> mean =
        end > settled ? std::optional(sum / static_cast<double>(end - settled)) : std::nullopt;
    const std::size_t inrush_end = std::min(burst.last, burst.first + view.samples(shortest_run_up_s));
    const auto first = trace.values.begin() + static_cast<std::ptrdiff_t>(burst.first);
    const auto last = trace.values.begin() + static_cast<std::ptrdiff_t>(inrush_end);
    if (trace.quantity == Quantity::voltage) {
        cranking.mean_v = mean;
        if (load.resting_known) cranking.resting_v = load.resting_v;
        if (saw_inrush && first != last)
            cranking.lowest_v = static_cast<double>(*std::min_element(first, last));
        return;
    }
    cranking.mean_a = mean;
    const bool cut = std::any_of(trace.clipped.begin(), trace.clipped.end(),
                                 [&](const Span& s) { return s.first < inrush_end && s.last > burst.first; });
    if (!saw_inrush || first == last) return;
    const auto highest = static_cast<double>(*std::max_element(first, last));
    if (!cut)
        cranking.inrush_a = highest;
    else
        cranking.notices.push_back(
            {"inrush-clipped",
             fmt::format("The inrush is cut off by the end of the range: it is at least {} {}. "
                         "Choose a larger range to see it whole.",
                         plain(highest, 3), trace.unit)});
}

std::optional<double> swing_ratio_of(const View& view, std::size_t settled, double end_s) {
    const std::size_t end = std::min(
        view.load.size(), static_cast<std::size_t>(std::max(0.0, (end_s - view.start_s) * view.rate_hz)));
    if (end < settled + view.samples(least_settled_s)) return std::nullopt;
    const auto smooth =
        signal::moving_mean(view.load.subspan(settled, end - settled), view.samples(swing_smoothing_s));
    const double middle = signal::quantile(smooth, 0.5);
    if (!(middle > 0)) return std::nullopt;
    return (signal::quantile(smooth, 0.95) - signal::quantile(smooth, 0.05)) / middle;
}

/// The starter draws its full inrush all along: it turns nothing.
bool stands_still(const View& view, const Span& burst, std::size_t settled, const Cranking& cranking) {
    if (!flat(cranking)) return false;
    const auto inrush = view.load.subspan(burst.first, view.samples(shortest_run_up_s));
    const auto later = view.load.subspan(settled, burst.last - settled);
    return signal::quantile(later, 0.5) >
           still_ratio * static_cast<double>(*std::max_element(inrush.begin(), inrush.end()));
}

std::string seconds_list(const std::vector<Burst>& bursts) {
    std::string text;
    for (const Burst& burst : bursts)
        text += fmt::format("{}{:.2f} to {:.2f} s", text.empty() ? "" : ", ", burst.start_s, burst.end_s);
    return text;
}

}  // namespace

const char* name(CrankingEnd end) {
    switch (end) {
        case CrankingEnd::release:
            return "release";
        case CrankingEnd::engine_start:
            return "engine start";
        case CrankingEnd::recording_end:
            break;
    }
    return "end of recording";
}

bool flat(const Cranking& cranking) {
    return cranking.swing_ratio && *cranking.swing_ratio < flat_ratio;
}

Cranking locate(const Trace& trace, const LocateOptions& options) {
    if (trace.quantity == Quantity::wheel) return locate_wheel(trace, options);
    Cranking cranking;
    const auto refuse = [&](std::string reason) {
        cranking.no_cranking = trace.zero_lost.value_or(std::move(reason));
        return cranking;
    };
    const auto sample_at = [&trace](double time_s) {
        return static_cast<std::size_t>(std::clamp((time_s - trace.start_s) * trace.rate_hz, 0.0,
                                                   static_cast<double>(trace.values.size())));
    };
    if (trace.values.empty() || !(trace.rate_hz > 0)) return refuse("The trace is empty.");
    const std::size_t from = options.from_s ? sample_at(*options.from_s) : 0;
    const std::size_t to = options.to_s ? sample_at(*options.to_s) : trace.values.size();
    const cranking::Load load = cranking::load_of(trace);
    const View view{std::span(load.values).first(std::max(from, to)), trace.rate_hz, trace.start_s};
    if (to <= from + view.samples(shortest_burst_s))
        return refuse(
            options.from_s || options.to_s
                ? "Less than half a second is left between --from and --to: nothing can be compared in it."
                : "The recording lasts less than half a second: crank for five seconds and record again.");

    std::vector<float> smooth = signal::moving_mean(view.load, view.samples(smoothing_s));
    std::fill(smooth.begin(), smooth.begin() + static_cast<std::ptrdiff_t>(from), 0.0F);
    const double level = cranking_level(smooth, trace.rate_hz);
    if (!(level > 0))
        return refuse("Nothing in the trace rises above rest: the starter does not seem to turn.");
    const double limit = engaged_ratio * level;
    const std::optional<Coasting> coasts = coasting(view, smooth, limit);
    const std::vector<Span> bursts = coasts ? std::vector{coasts->burst} : find_bursts(view, smooth, limit);
    if (bursts.empty())
        return refuse(
            "No stretch of cranking lasts half a second: crank for five seconds and record again. If the "
            "engine "
            "did turn for longer, the range cuts the signal off: choose a larger one.");
    const auto longest = std::max_element(bursts.begin(), bursts.end(), [](const Span& a, const Span& b) {
        return a.last - a.first < b.last - b.first;
    });
    for (const Span& burst : bursts)
        if (&burst != &*longest)
            cranking.others.push_back({view.time_s(burst.first), view.time_s(burst.last)});
    Span burst = *longest;
    burst.first = std::max(burst.first, from);
    sharpen(view, burst, limit, coasts ? coasts->end_limit : limit);
    burst.first = std::max(burst.first, from);
    const std::size_t settled = settle(view, burst);
    if (settled >= burst.last)
        return refuse(
            fmt::format("At {:.3g} samples per second the cranking is over before it has settled: record at "
                        "1 kHz or more.",
                        trace.rate_hz));
    cranking.start_s = view.time_s(burst.first);
    cranking.settled_s = view.time_s(settled);
    if (trace.quantity == Quantity::voltage) {
        const std::vector<float> fast = without_polarisation(view);
        find_end({fast, view.rate_hz, view.start_s}, burst, settled, dead_dip_ratio, cranking);
    } else {
        find_end(view, burst, settled, dead_ratio, cranking);
    }
    const bool saw_inrush = burst.first >= from + view.samples(least_rest_s);
    measure_levels(trace, load, view, burst, settled, saw_inrush, cranking);
    cranking.swing_ratio = swing_ratio_of(view, settled, cranking.end_s);
    if (saw_inrush && stands_still(view, burst, settled, cranking))
        return refuse(fmt::format(
            "\"{}\" stays at its full inrush all along: the starter never gets going and the engine does not "
            "turn. Before another try find out why: a cylinder full of liquid, a seized engine, a gear "
            "engaged, a weak battery or starter. If it is not the starter's current, name that with "
            "--channel.",
            trace.channel));
    say_doubtful_scale(trace, cranking);
    if (!cranking.others.empty())
        cranking.notices.push_back({"several-bursts",
                                    "The starter turned more than once; the longest stretch is used. "
                                    "Shorter ones: " +
                                        seconds_list(cranking.others) +
                                        ". Choose another with --from and --to."});
    if (!saw_inrush)
        cranking.notices.push_back(
            {"no-inrush",
             "The starter already turns where the analysis begins, so the inrush is not "
             "known. Start recording before the key is turned, and let --from begin there."});
    return cranking;
}

}  // namespace evenstroke
