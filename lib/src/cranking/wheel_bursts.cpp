#include "wheel_bursts.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <utility>

#include "signal/statistics.hpp"
#include "trace/wheel_edges.hpp"

namespace evenstroke::cranking {

namespace {

/// An interval this much shorter than those after it, among the first teeth, is chatter at rest.
constexpr double chatter_ratio = 0.25;
constexpr std::size_t chatter_teeth = 12;
/// A shorter pause is a stop too where it stands out: no crank that is being turned takes so long for a tooth
/// (6 degrees at 10 rpm, a gap of 18 degrees at 30) …
constexpr double least_stop_s = 0.1;
/// … nor so many usual periods (a gap of three pitches at a fifth of the usual speed) …
constexpr double stop_periods = 16;
/// … nor this multiple of the longest that return with the gap or a compression …
constexpr double rest_ratio = 2.5;
/// … within this time, a cycle at 120 rpm. On either side so many such stretches are looked at: a burst may
/// be hardly longer.
constexpr double stretch_s = 1.0;
constexpr std::size_t stretches_beside = 3;

bool is_kind(const Edge& edge, bool rising, const LocateOptions& options) {
    return edge.rising == rising && edge.time_s >= options.from_s.value_or(edge.time_s) &&
           edge.time_s <= options.to_s.value_or(edge.time_s);
}

ToothTimes of_kind(std::span<const Edge> edges, bool rising, const LocateOptions& options) {
    ToothTimes times;
    for (const Edge& edge : edges)
        if (is_kind(edge, rising, options)) times.push_back(edge.time_s);
    return times;
}

/// Mean change of ln(period) between neighbours: less for the edge kind that stands where it should.
double roughness(std::span<const Edge> edges, bool rising, const LocateOptions& options) {
    double sum = 0;
    double before_s = 0;
    double last_s = 0;
    std::size_t count = 0;
    for (const Edge& edge : edges) {
        if (!is_kind(edge, rising, options)) continue;
        if (++count > 2) sum += std::abs(std::log((edge.time_s - last_s) / (last_s - before_s)));
        before_s = std::exchange(last_s, edge.time_s);
    }
    return count < 3 ? std::numeric_limits<double>::infinity() : sum / static_cast<double>(count);
}

}  // namespace

ToothTimes teeth_of(const Trace& trace, const LocateOptions& options) {
    std::vector<Edge> room;
    const std::span<const Edge> edges = wheel_edges(trace, room);
    if (edges.empty()) return {};
    return of_kind(edges, roughness(edges, true, options) < roughness(edges, false, options), options);
}

double median_period(const ToothTimes& times, std::size_t first, std::size_t last) {
    std::vector<double> periods;
    for (std::size_t i = first + 1; i <= last; ++i) periods.push_back(times[i] - times[i - 1]);
    return signal::median(std::move(periods));
}

namespace {

/// Teeth of about `stretch_s`: the periods from tooth `first` to tooth `last`.
struct Stretch {
    std::size_t first = 0;
    std::size_t last = 0;
    double longest_s = 0;
};

std::vector<Stretch> stretches_of(const ToothTimes& times) {
    std::vector<Stretch> stretches;
    for (std::size_t i = 1; i < times.size(); ++i) {
        if (stretches.empty() || times[i - 1] >= times[stretches.back().first] + stretch_s)
            stretches.push_back({i - 1, i, 0});
        stretches.back().last = i;
        stretches.back().longest_s = std::max(stretches.back().longest_s, times[i] - times[i - 1]);
    }
    // What is left over belongs to the one before: else the stop at the end would lie in two of them.
    if (stretches.size() > 1 && times.back() - times[stretches.back().first] < stretch_s / 2) {
        const Stretch rest = stretches.back();
        stretches.pop_back();
        stretches.back().last = rest.last;
        stretches.back().longest_s = std::max(stretches.back().longest_s, rest.longest_s);
    }
    return stretches;
}

/// Whether a period is far longer than the usual one of `stretches` and than those that return in them with
/// the gap or a compression: the middle one of their longest, since a second stop may lie in one of them.
bool stands_out(const ToothTimes& times, double period_s, std::span<const Stretch> stretches) {
    std::vector<double> longest;
    for (const Stretch& stretch : stretches) longest.push_back(stretch.longest_s);
    std::sort(longest.begin(), longest.end());
    return period_s > stop_periods * median_period(times, stretches.front().first, stretches.back().last) &&
           period_s > rest_ratio * longest[(longest.size() - 1) / 2];
}

/// The teeth before which the crank stood. A stop stands out both from what was before and from what comes
/// after: an engine that runs makes every period of its cranking look long.
std::vector<std::size_t> stops_of(const ToothTimes& times) {
    const double certain_s =
        std::max(least_pause_s, pause_periods * median_period(times, 0, times.size() - 1));
    const std::vector<Stretch> stretches = stretches_of(times);
    const std::span<const Stretch> all(stretches);
    std::vector<std::size_t> stops;
    for (std::size_t k = 0; k < all.size(); ++k) {
        const auto before = all.subspan(k - std::min(k, stretches_beside), std::min(k, stretches_beside));
        const auto after = all.subspan(k + 1, std::min(all.size() - k - 1, stretches_beside));
        for (std::size_t i = all[k].first + 1; i <= all[k].last; ++i) {
            const double period_s = times[i] - times[i - 1];
            if (period_s <= least_stop_s) continue;
            const bool stop = !(before.empty() && after.empty()) &&
                              (before.empty() || stands_out(times, period_s, before)) &&
                              (after.empty() || stands_out(times, period_s, after));
            if (stop || period_s > certain_s) stops.push_back(i);
        }
    }
    return stops;
}

}  // namespace

std::vector<ToothTimes> bursts_of(const ToothTimes& times) {
    std::vector<ToothTimes> bursts;
    auto from = times.begin();
    for (const std::size_t stop : stops_of(times)) {
        const auto to = times.begin() + static_cast<std::ptrdiff_t>(stop);
        bursts.emplace_back(from, to);
        from = to;
    }
    bursts.emplace_back(from, times.end());
    for (ToothTimes& burst : bursts) {
        std::size_t chatter = 0;
        for (std::size_t i = 1; i <= chatter_teeth && i + 6 < burst.size(); ++i)
            if (burst[i] - burst[i - 1] < chatter_ratio * median_period(burst, i, i + 6)) chatter = i;
        burst.erase(burst.begin(), burst.begin() + static_cast<std::ptrdiff_t>(chatter));
    }
    return bursts;
}

}  // namespace evenstroke::cranking
