#include "twin.hpp"

#include <fmt/core.h>

#include <initializer_list>
#include <utility>

namespace evenstroke::contribution {

namespace {

/// Only what may be condemned is asked.
constexpr double doubtful_below_pct = 80;
/// The other twin must be so much likelier: where a cylinder of an even one is dead, all of them are alike.
constexpr double better_cost = 12;
/// Below this a cylinder's own compression no longer marks its place in the cycle.
constexpr double next_to_nothing_pct = 30;
/// Twins that fire unevenly: cranks of 180 and 270 degrees, V of 90 and 45 degrees on one pin (trade facts,
/// from memory), from either cylinder on.
constexpr double first_intervals_deg[] = {180, 270, 315, 405, 450, 540};

}  // namespace

std::optional<EngineLayout> likelier_twin(
    const EngineLayout& layout, bool first_known, const Eigen::ArrayXd& found_pct, double found_cost,
    const std::function<std::optional<double>(const EngineLayout&)>& cost_of) {
    if (layout.cylinders() != 2 || !layout.fires_evenly() || !(found_pct.minCoeff() < doubtful_below_pct))
        return std::nullopt;
    std::optional<EngineLayout> best;
    double best_cost = found_cost - better_cost;
    for (const double first_deg : first_intervals_deg) {
        if (!first_known && first_deg > cycle_deg / 2) continue;  // the same as a shorter one, turned
        EngineLayout twin = layout;
        twin.intervals_deg = {first_deg, cycle_deg - first_deg};
        const auto cost = cost_of(twin);
        if (!cost || !(*cost < best_cost)) continue;
        best_cost = *cost;
        best = std::move(twin);
    }
    return best;
}

Notice likelier_twin_notice(const EngineLayout& twin) {
    return {
        "other-intervals",
        fmt::format(
            "A twin that fires every 360 degrees was assumed, but one that fires {:g} and {:g} degrees apart "
            "makes this trace better, so no cylinder is condemned: give the intervals with --intervals "
            "{:g},{:g}",
            twin.intervals_deg[0], twin.intervals_deg[1], twin.intervals_deg[0], twin.intervals_deg[1])};
}

bool lone_compression(const EngineLayout& layout, const Eigen::ArrayXd& found_pct) {
    return layout.cylinders() == 2 && !layout.fires_evenly() && found_pct.minCoeff() < next_to_nothing_pct;
}

Notice lone_compression_notice() {
    return {
        "lone-compression",
        "Only one of the two cylinders compresses, and the firing intervals alone do not tell which: record "
        "a sync on a known cylinder too, or measure both with a gauge."};
}

}  // namespace evenstroke::contribution
