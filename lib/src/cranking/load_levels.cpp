#include "load_levels.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "signal/levels.hpp"
#include "values/words.hpp"

namespace evenstroke::cranking {

namespace {

constexpr double swing_smoothing_s = 0.02;
constexpr double least_settled_s = 0.5;
/// A starter that never gets going keeps drawing this share of its inrush, or more.
constexpr double still_ratio = 0.85;
/// No starter turns an engine with so little; a motorcycle's takes some 20 A. The largest diesels' take some
/// 1000.
constexpr double least_mean_a = 5, most_mean_a = 2000;

}  // namespace

void measure_levels(const Trace& trace, const LoadSignal& load, const LoadView& view, const Span& burst,
                    std::size_t settled, bool saw_inrush, Cranking& cranking) {
    if (trace.zero_lost) return;  // no level of it is one of the current or the battery
    const std::size_t end = trace.sample_at(cranking.end_s);
    double sum = 0;
    for (std::size_t i = settled; i < end; ++i) sum += static_cast<double>(trace.values[i]);
    const std::optional<double> mean =
        end > settled ? std::optional(sum / static_cast<double>(end - settled)) : std::nullopt;
    const auto sample = [&](std::size_t i) { return trace.values.begin() + static_cast<std::ptrdiff_t>(i); };
    const auto clipped_before = [&](std::size_t last) {
        return std::any_of(trace.clipped.begin(), trace.clipped.end(),
                           [&](const Span& s) { return s.first < last && s.last > burst.first; });
    };
    const auto first = sample(burst.first);
    if (trace.quantity == Quantity::voltage) {
        cranking.mean_v = mean;
        if (load.resting_known) cranking.resting_v = load.resting_v;
        // A battery that gives in sinks below what the inrush took.
        if (saw_inrush && burst.first < end && !clipped_before(end))
            cranking.lowest_v = static_cast<double>(*std::min_element(first, sample(end)));
        return;
    }
    cranking.mean_a = mean;
    const std::size_t inrush_end = std::min(burst.last, burst.first + view.samples(shortest_run_up_s));
    const auto last = sample(inrush_end);
    const bool cut = clipped_before(inrush_end);
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

std::optional<double> swing_ratio_of(const LoadView& view, std::size_t settled, std::size_t end) {
    if (end < settled + view.samples(least_settled_s)) return std::nullopt;
    const auto smooth =
        signal::moving_mean(view.load.subspan(settled, end - settled), view.samples(swing_smoothing_s));
    const double middle = signal::quantile(smooth, 0.5);
    if (!(middle > 0)) return std::nullopt;
    return signal::width_of(smooth) / middle;
}

bool stands_still(const LoadView& view, const Span& burst, std::size_t settled, const Cranking& cranking) {
    if (!flat(cranking)) return false;
    const auto inrush = view.load.subspan(burst.first, view.samples(shortest_run_up_s));
    const auto later = view.load.subspan(settled, burst.last - settled);
    return signal::quantile(later, 0.5) >
           still_ratio * static_cast<double>(*std::max_element(inrush.begin(), inrush.end()));
}

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
                     little ? "a starter draws tens of amperes" : "no starter draws that much",
                     little ? "volts" : "millivolts")});
}

}  // namespace evenstroke::cranking
