#include "load_signal.hpp"

#include <algorithm>

#include "signal/levels.hpp"

namespace evenstroke::cranking {

namespace {

/// Length of recording before cranking that must be steady to serve as rest.
constexpr double steady_piece_s = 0.05;
/// It is steady when it varies by less than this share of the whole dip.
constexpr double steady_ratio = 0.1;

}  // namespace

LoadSignal load_signal(const Trace& trace) {
    LoadSignal load{.values = trace.values};
    if (trace.quantity != Quantity::voltage) return load;
    const auto values = std::span(trace.values);
    const double lowest = signal::quantile(values, 0.001);
    const double highest = signal::quantile(values, 0.999);
    const std::size_t piece =
        std::min(values.size(), static_cast<std::size_t>(std::max(1.0, steady_piece_s * trace.rate_hz)));
    load.resting_known = false;
    load.resting_v = highest;
    if (trace.zero_lost) {  // dips from where it rested, which is no voltage
        load.resting_v = 0;
        for (float& v : load.values) v = -v;
        return load;
    }
    for (const auto& end : {values.first(piece), values.last(piece)}) {
        const double level = signal::quantile(end, 0.5);
        const double width = signal::width_of(end);
        const bool steady = width < steady_ratio * (highest - lowest);
        const bool high = level > lowest + 0.6 * (highest - lowest);  // a dip only goes down
        if (!steady || !high) continue;
        load.resting_v = level;
        load.resting_known = true;
        break;
    }
    for (float& v : load.values) v = static_cast<float>(load.resting_v) - v;
    return load;
}

}  // namespace evenstroke::cranking
