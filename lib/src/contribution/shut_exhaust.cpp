#include "shut_exhaust.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>
#include <vector>

#include "evenstroke/engine.hpp"
#include "rivals.hpp"

namespace evenstroke::contribution {

namespace {

/// What such a cylinder compresses for the second time is booked to the one that fires there. That one then
/// stands out, and another seems to have lost something.
constexpr double lost_peak_ratio = 0.92, top_peak_ratio = 0.97;
/// It fires within this angle of it; where none does, the fit without misses the trace.
constexpr double same_place_deg = 30;
/// Costs are minus twice the log of the likelihood. A broken rocker is taken for twenty times rarer than a
/// leak (from memory, no published source). So a fit 400 times likelier makes it sure at twenty to one (2 ln
/// 400), and one that is likelier at all leaves it open, as a 95 % interval would.
constexpr double sure_cost = 12;
/// Where most cylinders of an engine seem to have lost much against a few, such a valve is the likelier
/// story: it stays possible unless it is 20 000 times unlikelier (2 ln 20 000).
constexpr double against_most_lost_cost = 20;
/// Two searches for the same fit end no further apart.
constexpr double same_cost = 2;
/// On a twelve nearly every cylinder could be it. A first look tells which starts of each are worth a second,
/// and that which few, of one cylinder or of two, are worth a fit to the end.
constexpr int first_look_steps = 2, second_look_steps = 6;
constexpr std::size_t most_starts = 2, most_suspects = 2;
/// One of two that reads low is all that there is to explain, and a leak does.
constexpr int fewest_with_shut = 3;

/// The position that fires where this one would compress again; empty where none does.
std::optional<std::size_t> fires_a_turn_later(const std::vector<double>& firing_deg, std::size_t cylinder) {
    const double again_deg = firing_deg[cylinder] + cycle_deg / 2;
    for (std::size_t c = 0; c < firing_deg.size(); ++c)
        if (std::abs(std::remainder(firing_deg[c] - again_deg, cycle_deg)) < same_place_deg) return c;
    return std::nullopt;
}

/// Whether that could be this cylinder's fault.
bool may_be_shut(const EngineLayout& layout, const FitResult& best, std::size_t cylinder) {
    if (const auto other = fires_a_turn_later(layout.firing_tdc_deg(), cylinder))
        return best.peak[static_cast<Eigen::Index>(*other)] > top_peak_ratio * best.peak.maxCoeff();
    return best.slow_misfit_rms > usual_misfit_share * best.swing;  // noise or not: it is only tried
}

bool most_have_lost(const FitResult& fit) {
    const Eigen::ArrayXd ratio = peak_ratios(fit);
    return 2 * (ratio < much_lost_ratio).count() > ratio.size();
}

/// All other cylinders sound.
FitPoint with_others_sound(FitPoint from, std::size_t cylinder) {
    const Eigen::Index own = shared_unknowns + unknowns_per_cylinder * static_cast<Eigen::Index>(cylinder);
    const Eigen::VectorXd its_own = from.unknowns.segment(own, unknowns_per_cylinder);
    from.unknowns.tail(from.unknowns.size() - shared_unknowns).setZero();
    from.unknowns.segment(own, unknowns_per_cylinder) = its_own;
    from.from = {};
    return from;
}

/// The points that are worth a fit to the end.
std::vector<FitPoint> suspects(const FitData& data, const EngineLayout& layout, const FitOptions& look,
                               std::span<const FitPoint> tried, const FitResult& best) {
    const auto go_on = [&](std::vector<FitPoint>& points, int steps, std::size_t keep) {
        for (FitPoint& point : points) point = improve(data, layout, look, std::move(point), steps);
        std::sort(points.begin(), points.end(),
                  [](const FitPoint& a, const FitPoint& b) { return a.cost < b.cost; });
        points.resize(std::min(points.size(), keep));
    };
    std::vector<FitPoint> all;
    for (std::size_t c = 0; c < static_cast<std::size_t>(layout.cylinders()); ++c) {
        if (!may_be_shut(layout, best, c)) continue;
        std::vector<FitPoint> its_own;
        for (FitPoint start : tried) {
            start.supposed.exhaust_shut = c;
            start.from = {};
            // With all others sound the starter may be too weak for the engine; with what they lost it is
            // not.
            its_own.push_back(with_others_sound(start, c));
            its_own.push_back(std::move(start));
        }
        go_on(its_own, first_look_steps, most_starts);
        std::move(its_own.begin(), its_own.end(), std::back_inserter(all));
    }
    go_on(all, second_look_steps, most_suspects);
    return all;
}

/// `best`, or what is found with all valves opening from where the one with a shut one ended: what was
/// likelier there only because it had begun elsewhere does not speak for the valve.
FoundFit or_begun_there(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                        const FoundFit& shut, FoundFit best) {
    const std::size_t cylinder = *shut.point.supposed.exhaust_shut;
    const auto at = static_cast<Eigen::Index>(cylinder);
    FitPoint there = shut.point;
    there.supposed.exhaust_shut.reset();
    there.from = {};
    std::vector<FitPoint> starts = {there, with_others_sound(there, cylinder)};
    for (FitPoint& start : starts_with_loss(there, at, peak_ratios(best.fit)[at]))
        starts.push_back(std::move(start));
    for (FitPoint& start : starts) {
        FoundFit found = fit_from(data, layout, options, std::move(start));
        if (!(found.fit.cost < best.fit.cost)) continue;
        if (best.fit.cost < found.fit.cost + still_likely_cost) widen(found.fit, best.fit);
        best = std::move(found);
    }
    return best;
}

}  // namespace

FoundFit or_with_shut_exhaust(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                              std::span<const FitPoint> tried, FoundFit best) {
    if (layout.cylinders() < fewest_with_shut || !(peak_ratios(best.fit).minCoeff() < lost_peak_ratio))
        return best;
    FitOptions look = options;
    look.grid = coarse_grid;
    const double open_cost = best.fit.cost + (most_have_lost(best.fit) ? against_most_lost_cost : 0);
    std::optional<FoundFit> shut;
    for (const FitPoint& start : suspects(data, layout, look, tried, best.fit)) {
        FoundFit found = fit_from(data, layout, options, start);
        if (found.fit.cost < (shut ? shut->fit.cost : open_cost)) shut = std::move(found);
    }
    if (!shut) return best;
    best = or_begun_there(data, layout, options, *shut, std::move(best));
    if (shut->fit.cost < best.fit.cost - sure_cost) return std::move(*shut);
    best.fit.maybe_shut = shut->point.supposed.exhaust_shut;
    return best;
}

FitResult likelier(FitResult one, FitResult other) {
    if (other.cost < one.cost) std::swap(one, other);
    const auto shut = exhaust_shut(one), other_shut = exhaust_shut(other);
    const bool other_sure = other_shut && other_shut->sure;
    // Whatever search finds it, a fit with all valves opening is to be excluded before one is surely shut.
    if (shut && shut->sure && !other_sure && other.cost < one.cost + sure_cost) {
        if (!other.maybe_shut) other.maybe_shut = shut->position;
        return other;
    }
    if (other_shut && !shut && other.cost < one.cost + same_cost) one.maybe_shut = other_shut->position;
    return one;
}

std::optional<ShutExhaust> exhaust_shut(const FitResult& fit) {
    if (fit.maybe_shut) return ShutExhaust{*fit.maybe_shut, false};
    const auto& all = fit.model.cylinders;
    const auto shut =
        std::find_if(all.begin(), all.end(), [](const CylinderGas& gas) { return gas.exhaust_shut; });
    if (shut == all.end()) return std::nullopt;
    return ShutExhaust{static_cast<std::size_t>(shut - all.begin()), true};
}

void forget_shut(Contribution& out) {
    if (!out.exhaust_shut || !out.exhaust_shut->sure) return;
    const std::size_t position = out.exhaust_shut->position;
    CylinderContribution& own = out.cylinders[position];
    own.contribution_pct = own.low_pct = own.high_pct = std::nullopt;
    for (auto& cycle : out.by_cycle_pct) cycle[position].reset();
    for (CompressionEvent& event : out.events)
        if (event.position == static_cast<int>(position)) event.contribution_pct.reset();
}

void doubt_shut(const ShutExhaust& shut, const EngineLayout& layout, const Eigen::ArrayXd& pct,
                Eigen::ArrayXd& low_pct, Eigen::ArrayXd& high_pct) {
    const auto own = static_cast<Eigen::Index>(shut.position);
    Eigen::ArrayXd others_pct = pct;
    others_pct[own] = 0;
    // What is one's second compression and what the other's first can only be told by their shapes: the other
    // may be as low as any, and as high.
    if (const auto later = fires_a_turn_later(layout.firing_tdc_deg(), shut.position)) {
        const auto other = static_cast<Eigen::Index>(*later);
        low_pct[own] = 100;
        low_pct[other] = low_pct.minCoeff();
        high_pct[other] = 100;
        others_pct[other] = 0;
    }
    low_pct[own] = 0;
    high_pct[own] = 100;
    if (const double highest_pct = others_pct.maxCoeff(); highest_pct > 0)
        high_pct = (100 / highest_pct * high_pct).min(100.0);
}

Notice shut_exhaust_notice(const ShutExhaust& shut, const EngineLayout& layout,
                           const std::vector<CylinderName>& names) {
    const std::string& name = names[shut.position].label;
    const auto other = fires_a_turn_later(layout.firing_tdc_deg(), shut.position);
    constexpr const char* look =
        "Look at rocker, pushrod, lifter and cam lobe there (or whether a "
        "deactivation system holds its valves shut), then record again";
    if (!shut.sure)
        return {
            "exhaust-may-stay-shut",
            fmt::format("The exhaust valve of {} may not open: if it then compresses a second time, a turn "
                        "after its firing TDC, the trace looks the same as it does with compression lost "
                        "elsewhere, and the others only look weak beside that. {}",
                        name, look)};
    return {
        "exhaust-stays-shut",
        fmt::format("The exhaust valve of {} seems not to open: it compresses a second time, a turn "
                    "after its firing TDC. Its own compression cannot be told{}, and without that second "
                    "one the others would look weak. {}",
                    name, other ? fmt::format(", that of {} only roughly", names[*other].label) : "", look)};
}

}  // namespace evenstroke::contribution
