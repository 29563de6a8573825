#include "load_samples.hpp"

#include <algorithm>
#include <cmath>

#include "cranking/load_signal.hpp"

namespace evenstroke::contribution {

namespace {

/// Inrush is read from a mean over this time: longer than commutation ripple, shorter than the rise of speed.
constexpr double inrush_window_s = 0.003;
/// A capture that begins later than this before engagement shows the inrush whole.
constexpr double inrush_margin_s = 0.005;

/// So much of the time before engagement is kept.
constexpr double before_s = 0.05;

/// `first` is the trace's sample that usable[0] stands for.
void mark(std::vector<bool>& usable, std::size_t first, const std::vector<Span>& spans) {
    for (const Span& span : spans)
        for (std::size_t k = std::max(span.first, first); k < std::min(span.last, first + usable.size()); ++k)
            usable[k - first] = false;
}

std::optional<double> inrush_of(const Trace& trace, const Load& load, const Cranking& cranking) {
    const auto width = std::max<std::size_t>(1, static_cast<std::size_t>(inrush_window_s * trace.rate_hz));
    const auto& s = load.samples;
    if (s.time_s.empty() || s.time_s.front() > cranking.start_s - inrush_margin_s) return std::nullopt;
    double sum = 0;
    double highest = 0;
    std::size_t top = 0;
    for (std::size_t k = 0; k < s.load.size() && s.time_s[k] < cranking.settled_s; ++k) {
        sum += s.load[k];
        if (k >= width) sum -= s.load[k - width];
        if (k + 1 >= width && sum > highest) {
            highest = sum;
            top = k;
        }
    }
    if (!(highest > 0)) return std::nullopt;
    for (std::size_t k = top + 1 >= width ? top + 1 - width : 0; k <= top; ++k)
        if (!s.usable[k]) return std::nullopt;
    return highest / static_cast<double>(width);
}

}  // namespace

double Load::as_recorded(double effort) const {
    return rest_v ? *rest_v - effort : effort;
}

Load load_of(const Trace& trace, const Cranking& cranking) {
    Load load;
    const bool voltage = trace.quantity == Quantity::voltage;
    if (trace.values.empty() || !(trace.rate_hz > 0)) return load;
    const cranking::LoadSignal whole = cranking::load_signal(trace);
    // Only the cranking is needed, and a little before it to see the inrush whole.
    const std::size_t first = trace.sample_at(cranking.start_s - before_s);
    const std::size_t last =
        std::max(first, std::min(trace.values.size(), trace.sample_at(cranking.end_s) + 1));
    load.samples.time_s.reserve(last - first);
    load.samples.load.reserve(last - first);
    load.samples.usable.assign(last - first, true);
    for (std::size_t k = first; k < last; ++k) {
        const auto value = static_cast<double>(whole.values[k]);
        const bool finite = std::isfinite(value);
        load.samples.time_s.push_back(trace.time_s(k));
        load.samples.load.push_back(finite ? value : 0.0);
        if (!finite) load.samples.usable[k - first] = false;
    }
    mark(load.samples.usable, first, trace.gaps);
    mark(load.samples.usable, first, trace.clipped);
    load.zero_known = !voltage;
    if (voltage) load.rest_v = whole.resting_v;
    load.inrush = inrush_of(trace, load, cranking);
    return load;
}

}  // namespace evenstroke::contribution
