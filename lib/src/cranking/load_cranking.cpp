#include "load_cranking.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "load_bursts.hpp"
#include "load_end.hpp"
#include "load_levels.hpp"
#include "load_settle.hpp"
#include "load_signal.hpp"
#include "values/words.hpp"

namespace evenstroke::cranking {

namespace {

/// The inrush was recorded when at least so much of rest was seen before it.
constexpr double least_rest_s = 0.005;

std::string seconds_list(const std::vector<Burst>& bursts) {
    std::string text;
    for (const Burst& burst : bursts)
        text += fmt::format("{}{:.2f} to {:.2f} s", text.empty() ? "" : ", ", burst.start_s, burst.end_s);
    return text;
}

const Span& longest_of(const std::vector<Span>& spans) {
    return *std::max_element(spans.begin(), spans.end(), [](const Span& a, const Span& b) {
        return a.last - a.first < b.last - b.first;
    });
}

std::string stands_still_reason(const Trace& trace) {
    return fmt::format(
        "\"{}\" stays at its full inrush throughout: the starter never gets going and the engine does not "
        "turn. Find out why before trying again: a cylinder full of liquid, a seized engine, a gear "
        "engaged, a weak battery or starter. If it is not the starter's current, name that with "
        "--channel.",
        trace.channel);
}

/// More of the cranking than this beyond the range leaves no humps.
constexpr double most_clipped_share = 0.5;

/// Share of the settled part that lies beyond the range.
double clipped_share(const Trace& trace, std::size_t settled, std::size_t last) {
    std::size_t clipped = 0;
    for (const Span& span : trace.clipped)
        if (span.last > settled && span.first < last)
            clipped += std::min(span.last, last) - std::max(span.first, settled);
    return static_cast<double>(clipped) / static_cast<double>(last - settled);
}

/// Names the other bursts, and says that a beginning is missing.
void say_how_it_began(bool saw_inrush, Cranking& cranking) {
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
             "known. Start recording before the key is turned, and set --from to that time."});
}

void say_switched_off(const Trace& trace, const UsableEnd& end, Cranking& cranking) {
    cranking.notices.push_back(
        {"load-switched-off",
         fmt::format("At {:.2f} s the load fell by {} {} while the starter turned on as before: another "
                     "consumer (glow plugs, lamps, a fan) went off. Only what came before is used. Record "
                     "again with the others off, or with the clamp on the starter's own cable.",
                     end.end_s, plain(*end.switched_off, 3), trace.unit)});
}

}  // namespace

Cranking locate_load(const Trace& trace, const LocateOptions& options) {
    Cranking cranking;
    const auto refuse = [&](std::string reason) {
        cranking.no_cranking = trace.zero_lost.value_or(std::move(reason));
        return cranking;
    };
    if (trace.values.empty() || !(trace.rate_hz > 0)) return refuse("The trace is empty.");
    const std::size_t from = options.from_s ? trace.sample_at(*options.from_s) : 0;
    const std::size_t to = options.to_s ? trace.sample_at(*options.to_s) : trace.values.size();
    const LoadSignal load = load_signal(trace);
    const LoadView view{std::span(load.values).first(std::max(from, to)), trace.rate_hz, trace.start_s};
    if (to <= from + view.samples(shortest_burst_s))
        return refuse(
            options.from_s || options.to_s
                ? "Less than half a second is left between --from and --to: nothing can be compared in it."
                : "The recording lasts less than half a second: crank for five seconds and record again.");

    const LoadBursts bursts = find_bursts(view, from);
    if (!(bursts.level > 0))
        return refuse("Nothing in the trace rises above rest: the starter does not seem to turn.");
    if (bursts.spans.empty())
        return refuse(
            "No stretch of cranking lasts half a second: crank for five seconds and record again. If the "
            "engine "
            "did turn for longer, the range cuts the signal off: choose a larger one.");
    const Span& longest = longest_of(bursts.spans);
    for (const Span& other : bursts.spans)
        if (&other != &longest)
            cranking.others.push_back({view.time_s(other.first), view.time_s(other.last)});
    Span burst = longest;
    burst.first = std::max(burst.first, from);
    burst = sharpened(view, burst, bursts);
    burst.first = std::max(burst.first, from);
    std::size_t settled = settle(view, burst);
    if (settled >= burst.last)
        return refuse(
            fmt::format("At {:.3g} samples per second the cranking is over before it has settled: record at "
                        "1 kHz or more.",
                        trace.rate_hz));
    const UsableEnd end = end_of_load(view, burst, settled, trace.quantity);
    // Before a consumer went off the load settled at a level of its own.
    if (end.switched_off) settled = settle(view, {burst.first, trace.sample_at(end.end_s)});
    cranking.start_s = view.time_s(burst.first);
    cranking.settled_s = view.time_s(settled);
    cranking.end_s = end.end_s;
    cranking.ended_by = end.ended_by;
    if (end.switched_off) say_switched_off(trace, end, cranking);
    const bool saw_inrush = burst.first >= from + view.samples(least_rest_s);
    measure_levels(trace, load, view, burst, settled, saw_inrush, cranking);
    const std::size_t end_sample = std::min(view.load.size(), trace.sample_at(cranking.end_s));
    cranking.swing_ratio = swing_ratio_of(view, settled, end_sample);
    if (const double share = clipped_share(trace, settled, burst.last); share > most_clipped_share)
        return refuse(
            fmt::format("The range cuts the signal off for {:.0f} % of the cranking, and with it the humps: "
                        "choose a larger range and record again.",
                        100 * share));
    if (saw_inrush && stands_still(view, burst, settled, cranking)) return refuse(stands_still_reason(trace));
    say_doubtful_scale(trace, cranking);
    say_how_it_began(saw_inrush, cranking);
    return cranking;
}

}  // namespace evenstroke::cranking
