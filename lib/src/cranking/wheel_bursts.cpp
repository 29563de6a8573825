#include "wheel_bursts.hpp"

#include <algorithm>
#include <cmath>
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

std::vector<ToothTimes> bursts_of(const ToothTimes& times) {
    const double pause = std::max(least_pause_s, pause_periods * median_period(times, 0, times.size() - 1));
    std::vector<ToothTimes> bursts(1);
    for (std::size_t i = 0; i < times.size(); ++i) {
        if (i > 0 && times[i] - times[i - 1] > pause) bursts.emplace_back();
        bursts.back().push_back(times[i]);
    }
    for (ToothTimes& burst : bursts) {
        std::size_t chatter = 0;
        for (std::size_t i = 1; i <= chatter_teeth && i + 6 < burst.size(); ++i)
            if (burst[i] - burst[i - 1] < chatter_ratio * median_period(burst, i, i + 6)) chatter = i;
        burst.erase(burst.begin(), burst.begin() + static_cast<std::ptrdiff_t>(chatter));
    }
    return bursts;
}

}  // namespace evenstroke::cranking
