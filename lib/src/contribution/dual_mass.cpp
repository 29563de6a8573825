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
/// Start values of the springs' frequency, in its prior's standard deviations: on either side of where most
/// engines fire while they are cranked.
constexpr double start_springs[] = {-0.7, 0.7};
/// What a cylinder that has lost much has lost, in its prior's standard deviations: all through a hole, or
/// seven tenths of charge or of the ratio less 1. The fit without a second mass, bent to explain the springs,
/// may say another than is true.
constexpr std::pair<Own, double> start_losses[] = {
    {own_leak, hole_unknown}, {own_charge, -40}, {own_ratio, -40}};
/// So many steps on the coarse grid tell which start leads on.
constexpr int look_steps = 12;

/// The best place to start from, on the coarse grid.
FitPoint first_look(const FitData& data, const EngineLayout& layout, const FitOptions& coarse,
                    const FoundFit& best) {
    FitPoint found;
    const auto look_from = [&](FitPoint start) {
        start.from = {};
        start = improve(data, layout, coarse, std::move(start), look_steps);
        if (start.cost < found.cost) found = std::move(start);
    };
    for (const double spring : start_springs) {
        FitPoint start = best.point;
        start.unknowns[at_spring] = spring;
        look_from(std::move(start));
    }
    Eigen::Index lowest = 0;
    if (best.fit.peak.minCoeff(&lowest) < much_lost_ratio * best.fit.peak.maxCoeff())
        for (const auto& [kind, unknown] : start_losses)
            look_from(with_loss(best.point, lowest, kind, unknown));
    return found;
}

}  // namespace

FitResult or_with_dual_mass(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                            FoundFit best) {
    if (data.seen_is != Seen::load || exhaust_shut(best.fit) ||
        !(best.fit.slow_misfit_rms > least_missed_share * best.fit.swing) ||
        missed_share(best.fit) > hopeless_misfit_share)
        return std::move(best.fit);
    FitData sprung_data = data;
    sprung_data.sprung = true;
    FitOptions coarse = options;
    coarse.grid = coarse_grid;
    FitPoint point = first_look(sprung_data, layout, coarse, best);
    if (!(point.cost < describe(data, layout, coarse, best.point).cost)) return std::move(best.fit);
    point = improve(sprung_data, layout, options, std::move(point), steps_to_the_end);
    FitResult found = describe(sprung_data, layout, options, point);
    if (!(found.cost < best.fit.cost - still_likely_cost)) return std::move(best.fit);
    if (!(found.cost < best.fit.cost - dual_mass_cost)) {
        widen(best.fit, found);
        return std::move(best.fit);
    }
    found.least_ratio = best.fit.least_ratio;
    found.most_ratio = best.fit.most_ratio;
    widen(found, best.fit);
    widen(found, found);
    found.cost = best.fit.cost;
    found.missed_rms = std::max(found.missed_rms, best.fit.missed_rms);
    return found;
}

Notice dual_mass_notice() {
    return {
        "dual-mass-flywheel",
        "the engine turns as with a dual-mass flywheel, and was taken to have one; the intervals hold "
        "what a flywheel of one piece would give too. If this engine has one of one piece, judge with care"};
}

}  // namespace evenstroke::contribution
