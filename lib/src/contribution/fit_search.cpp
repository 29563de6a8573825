#include "fit_search.hpp"

#include <algorithm>
#include <iterator>
#include <optional>
#include <utility>

#include "dual_mass.hpp"
#include "rivals.hpp"
#include "shut_exhaust.hpp"

namespace evenstroke::contribution {

namespace {

/// Start values that lead into the different ways an engine can crank, in prior standard deviations.
struct Start {
    double time_constant, starter_share, saturation;
};
constexpr Start starts[] = {{0, 0, 0},    {-1, 0, 0},      {0.8, 0.8, 0}, {0, 0, 2.2},
                            {-1, 0, 2.2}, {0.8, 0.8, 2.2}, {1.2, 0, 1},   {1.6, 1, 0}};
/// A clutch that hardly slips, from which coasting sets in gradually, and one that overruns from the first.
/// Engines of few cylinders coast for much of the cycle, and no gradual way leads there.
constexpr double locked_overrun = -3, free_overrun = 0.5;
/// First all cylinders alike, so that no fault is invented to mend a wrong inertia; then each on its own.
/// With few cylinders a fault shapes the whole cycle: there the way without is tried as well.
constexpr int coasting_cylinders = 5;
/// Each round costs more steps a trial, and fewer trials live to see it.
constexpr int first_steps = 4, trial_steps = 5, heat_steps = 10;
constexpr std::size_t trials_each_way = 8, heats = 8, finalists = 3;
/// Two cylinders coast, stall and shape each other most, and cost least: all trials live on.
constexpr int fewest_cylinders = 2;

/// A cost that rises by more when the cycle is begun anew belongs to another way of cranking.
constexpr double another_way_cost = 1;

/// Two points nowhere further apart than this lead to the same end.
constexpr double same_point = 0.1;

[[nodiscard]] bool same(const FitPoint& a, const FitPoint& b) {
    return a.supposed.offset_deg == b.supposed.offset_deg &&
           (a.unknowns - b.unknowns).cwiseAbs().maxCoeff() < same_point;
}

/// The best `most`, of which no two are the same.
[[nodiscard]] std::vector<FitPoint> best_of(std::vector<FitPoint> tried, std::size_t most) {
    std::sort(tried.begin(), tried.end(),
              [](const FitPoint& a, const FitPoint& b) { return a.cost < b.cost; });
    std::vector<FitPoint> kept;
    for (FitPoint& point : tried) {
        if (kept.size() == most) break;
        const auto twin = [&](const FitPoint& better) { return same(better, point); };
        if (std::none_of(kept.begin(), kept.end(), twin)) kept.push_back(std::move(point));
    }
    return kept;
}

std::vector<FitPoint> first_points(Eigen::Index unknowns, const std::vector<double>& offsets_deg) {
    std::vector<FitPoint> points;
    for (const double offset_deg : offsets_deg)
        for (const Start& s : starts)
            for (const double overrun : {locked_overrun, free_overrun}) {
                FitPoint point;
                point.unknowns = Eigen::VectorXd::Zero(unknowns);
                point.supposed.offset_deg = offset_deg;
                point.unknowns[at_time_constant] = s.time_constant;
                point.unknowns[at_starter_share] = s.starter_share;
                point.unknowns[at_overrun] = overrun;
                point.unknowns[at_saturation] = s.saturation;
                points.push_back(std::move(point));
            }
    return points;
}

/// The best of `tried` by the cycles that they lead to when each is begun anew from where it stands.
FoundFit best_that_lasts(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                         const std::vector<FitPoint>& tried) {
    std::optional<FoundFit> best;
    for (const FitPoint& point : tried) {
        FitResult found = describe(data, layout, options, point);
        if (!best || found.cost < best->fit.cost) best = {std::move(found), point};
    }
    return std::move(*best);
}

/// Each start costs as much as a finalist of the search.
constexpr std::size_t most_lost = 3;

/// `best`, or what is found where the cylinders that have lost much have lost it otherwise; the limits hold
/// what is about as likely.
FoundFit or_with_other_losses(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                              FoundFit best) {
    const Eigen::ArrayXd ratio = peak_ratios(best.fit);
    std::vector<Eigen::Index> lost;
    for (Eigen::Index c = 0; c < ratio.size(); ++c)
        if (ratio[c] < much_lost_ratio) lost.push_back(c);
    std::sort(lost.begin(), lost.end(), [&](auto a, auto b) { return ratio[a] < ratio[b]; });
    lost.resize(std::min(lost.size(), most_lost));
    std::vector<FitResult> others;
    for (const Eigen::Index c : lost)
        for (FitPoint& start : starts_with_loss(best.point, c, ratio[c])) {
            FoundFit found = fit_from(data, layout, options, std::move(start));
            if (found.fit.cost < best.fit.cost) std::swap(found, best);
            others.push_back(std::move(found.fit));
        }
    for (const FitResult& other : others)
        if (other.cost < best.fit.cost + still_likely_cost) widen(best.fit, other);
    return best;
}

}  // namespace

FitResult fit_best(const FitData& data, const EngineLayout& layout, const std::vector<double>& offsets_deg,
                   double trial_noise_share) {
    const FitOptions narrow;
    FitOptions coarse;
    coarse.grid = coarse_grid;
    FitOptions loose = coarse;
    loose.noise_share = trial_noise_share;
    loose.noise_known = true;
    FitOptions alike = loose;
    alike.shared_only = true;
    const auto go_on = [&](std::vector<FitPoint>& tried, const FitOptions& options, int steps,
                           std::size_t keep) {
        for (FitPoint& point : tried) point = improve(data, layout, options, std::move(point), steps);
        tried = best_of(std::move(tried), keep);
    };
    std::vector<FitPoint> tried = first_points(UnknownsMap(data, layout).size(), offsets_deg);
    const bool fewest = layout.cylinders() <= fewest_cylinders;
    const std::size_t keep = fewest ? tried.size() : trials_each_way * offsets_deg.size();
    std::vector<FitPoint> each_own = tried;
    go_on(tried, alike, first_steps, keep);
    if (layout.cylinders() <= coasting_cylinders) {
        go_on(each_own, loose, first_steps, keep);
        std::move(each_own.begin(), each_own.end(), std::back_inserter(tried));
    }
    go_on(tried, loose, trial_steps, fewest ? keep : heats);
    go_on(tried, coarse, heat_steps, finalists);
    go_on(tried, narrow, steps_to_the_end, finalists);
    // A cycle may be such that the least disturbance leads to another way of cranking: no engine keeps that,
    // and what is found when it is begun anew tells.
    FoundFit best = best_that_lasts(data, layout, narrow, tried);
    if (best.fit.cost > tried.front().cost + another_way_cost) {
        for (FitPoint& point : tried) point.from = {};
        go_on(tried, narrow, steps_to_the_end, finalists);
        FoundFit again = best_that_lasts(data, layout, narrow, tried);
        if (again.fit.cost < best.fit.cost) best = std::move(again);
    }
    best = or_with_other_losses(data, layout, narrow, std::move(best));
    best = or_with_shut_exhaust(data, layout, narrow, tried, std::move(best));
    if (best.point.supposed.exhaust_shut) return std::move(best.fit);
    look_for_rivals(data, layout, narrow, best);
    return or_with_dual_mass(data, layout, narrow, std::move(best));
}

FitResult or_retry(FitResult fit, const FitData& data, const EngineLayout& layout,
                   const std::vector<double>& offsets_deg, std::span<const double> trial_noise_shares) {
    for (const double noise_share : trial_noise_shares) {
        // A shut exhaust valve, sure or not, may stand in for what the search had missed.
        if (missed_share(fit) < poor_misfit_share && !exhaust_shut(fit)) break;
        fit = likelier(std::move(fit), fit_best(data, layout, offsets_deg, noise_share));
    }
    return fit;
}

FitResult fit_or_retry(const FitData& data, const EngineLayout& layout,
                       const std::vector<double>& offsets_deg, std::span<const double> trial_noise_shares) {
    return or_retry(fit_best(data, layout, offsets_deg, trial_noise_shares.front()), data, layout,
                    offsets_deg, trial_noise_shares.subspan(1));
}

}  // namespace evenstroke::contribution
