#include "dual_mass.hpp"

#include <algorithm>
#include <utility>

#include "interval.hpp"
#include "rivals.hpp"
#include "shut_exhaust.hpp"

namespace evenstroke::contribution {

namespace {

/// Where the slow part of the misfit is less than this share of the swing, springs have nothing to explain.
constexpr double least_missed_share = 0.005;
/// One likelier by this much (2 ln 20 000) is taken: errors of the model speak for two more unknowns as well.
/// On drawn engines without such a flywheel a lower bar made as many figures worse as better.
constexpr double dual_mass_cost = 20;
/// One likelier by less than that and more than this (2 ln 20) is not taken, but held by the limits. Any
/// model with two unknowns more is likelier by a little.
constexpr double worth_holding_cost = 6;
/// Start values of the springs' frequency, in its prior's standard deviations: on either side of where most
/// engines fire while they are cranked.
constexpr double start_springs[] = {-0.7, 0.7};
/// So many steps on the coarse grid tell which start leads on.
constexpr int look_steps = 12;

/// The best place to start from, on the coarse grid.
FitPoint first_look(const FitData& data, const EngineLayout& layout, const FitOptions& coarse,
                    const FoundFit& best) {
    FitPoint from = best.point;
    from.supposed.dual_mass = true;
    from.from = {};
    FitPoint found;
    const auto look_from = [&](FitPoint start) {
        start = improve(data, layout, coarse, std::move(start), look_steps);
        if (start.cost < found.cost) found = std::move(start);
    };
    for (const double spring : start_springs) {
        FitPoint start = from;
        start.unknowns[at_spring] = spring;
        look_from(std::move(start));
    }
    // The fit without a second mass, bent to explain the springs, may say another loss than is true.
    Eigen::Index lowest = 0;
    const double ratio = peak_ratios(best.fit).minCoeff(&lowest);
    if (ratio < much_lost_ratio)
        for (FitPoint& start : starts_with_loss(from, lowest, ratio)) look_from(std::move(start));
    return found;
}

/// `best`, or what is found without a second mass from where the fit with one ended: what was likelier there
/// only because it had begun elsewhere does not speak for the flywheel.
FoundFit or_of_one_piece(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                         FitPoint there, FoundFit best) {
    there.supposed.dual_mass = false;
    there.unknowns[at_spring] = there.unknowns[at_sprung_share] = 0;
    there.from = {};
    FoundFit found = fit_from(data, layout, options, std::move(there));
    if (found.fit.cost < best.fit.cost) replace(best, std::move(found));
    return best;
}

}  // namespace

FitResult or_with_dual_mass(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                            FoundFit best) {
    if (data.seen_is != Seen::load || exhaust_shut(best.fit) ||
        !(best.fit.slow_misfit_rms > least_missed_share * best.fit.swing) ||
        missed_share(best.fit) > hopeless_misfit_share)
        return std::move(best.fit);
    FitOptions coarse = options;
    coarse.grid = coarse_grid;
    FitPoint start = first_look(data, layout, coarse, best);
    if (!(start.cost < describe(data, layout, coarse, best.point).cost)) return std::move(best.fit);
    auto [found, point] = fit_from(data, layout, options, std::move(start));
    if (!(found.cost < best.fit.cost - worth_holding_cost)) return std::move(best.fit);
    best = or_of_one_piece(data, layout, options, std::move(point), std::move(best));
    if (!(found.cost < best.fit.cost - worth_holding_cost)) return std::move(best.fit);
    if (!(found.cost < best.fit.cost - dual_mass_cost)) {
        widen(best.fit, found);
        return std::move(best.fit);
    }
    widen(found, best.fit);
    found.cost = best.fit.cost;
    found.missed_rms = std::max(found.missed_rms, best.fit.missed_rms);
    return std::move(found);
}

Notice dual_mass_notice() {
    return {
        "dual-mass-flywheel",
        "the engine turns as with a dual-mass flywheel, and was taken to have one; the cylinders' intervals "
        "hold what a flywheel of one piece would give too. If this engine has one of one piece, judge with "
        "care"};
}

}  // namespace evenstroke::contribution
