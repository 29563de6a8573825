#include "load_settle.hpp"

#include <algorithm>
#include <vector>

#include "signal/periodicity.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::cranking {

namespace {

/// The load has settled when its mean over whole repeats is within this share of the later level.
constexpr double settled_ratio = 0.06;

}  // namespace

std::size_t settle(const LoadView& view, const Span& burst) {
    const std::size_t earliest = std::min(burst.last, burst.first + view.samples(shortest_run_up_s));
    const auto tail = view.load.subspan(earliest, burst.last - earliest);
    const auto repeat = signal::strongest_repeat(tail, view.rate_hz, shortest_event_s, longest_repeat_s);
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

}  // namespace evenstroke::cranking
