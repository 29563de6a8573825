#include "shut_exhaust.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

/// What such a cylinder compresses for the second time is booked to the one that fires there. That one then
/// stands out, and another seems to have lost something.
constexpr double lost_peak_ratio = 0.92, top_peak_ratio = 0.97;
/// It fires within this angle of it; where none does, the fit without misses the trace.
constexpr double same_place_deg = 30;
/// The fit must be likelier by this much: a broken rocker is rarer than a leak.
constexpr double shut_better_cost = 12;
/// A first look tells which few are worth a fit to the end: on a twelve nearly every cylinder could be it.
constexpr int suspect_look_steps = 6;
constexpr std::size_t most_suspects = 2;
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
    return best.slow_misfit_rms > usual_misfit_share * best.swing;
}

struct Suspect {
    std::size_t cylinder;
    FitPoint point;
};

/// All cylinders sound; this one as it was found, where `keep_own`.
FitPoint begun_anew(FitPoint from, std::size_t cylinder, bool keep_own) {
    const Eigen::Index own = shared_unknowns + unknowns_per_cylinder * static_cast<Eigen::Index>(cylinder);
    const Eigen::VectorXd its_own = from.unknowns.segment(own, unknowns_per_cylinder);
    from.unknowns.tail(from.unknowns.size() - shared_unknowns).setZero();
    if (keep_own) from.unknowns.segment(own, unknowns_per_cylinder) = its_own;
    from.from = {};
    return from;
}

}  // namespace

FitResult or_with_shut_exhaust(FitData data, const EngineLayout& layout, const FitOptions& options,
                               const FitPoint& from, FitResult best) {
    if (layout.cylinders() < fewest_with_shut ||
        !(best.peak.minCoeff() < lost_peak_ratio * best.peak.maxCoeff()))
        return best;
    data.offset_deg = from.offset_deg;
    const auto fitted = [&](const Suspect& suspect, int steps) -> Suspect {
        data.exhaust_shut = suspect.cylinder;
        return {suspect.cylinder, improve(data, layout, options, suspect.point, steps)};
    };
    std::vector<Suspect> suspects;
    for (std::size_t c = 0; c < static_cast<std::size_t>(layout.cylinders()); ++c)
        if (may_be_shut(layout, best, c))
            for (const bool keep_own : {false, true})
                suspects.push_back(fitted({c, begun_anew(from, c, keep_own)}, suspect_look_steps));
    std::sort(suspects.begin(), suspects.end(),
              [](const Suspect& a, const Suspect& b) { return a.point.cost < b.point.cost; });
    suspects.resize(std::min(suspects.size(), most_suspects));

    double least_cost = best.cost - shut_better_cost;
    std::optional<FitResult> likelier;
    for (const Suspect& suspect : suspects) {
        const FitPoint point = fitted(suspect, steps_to_the_end).point;
        if (!(point.cost < least_cost)) continue;
        FitResult found = describe(data, layout, options, point);
        if (!(found.cost < least_cost)) continue;  // a way of cranking that does not last
        least_cost = found.cost;
        likelier = std::move(found);
    }
    return likelier ? std::move(*likelier) : std::move(best);
}

std::optional<std::size_t> exhaust_shut(const FitResult& fit) {
    const auto& all = fit.model.cylinders;
    const auto shut =
        std::find_if(all.begin(), all.end(), [](const CylinderGas& gas) { return gas.exhaust_shut; });
    if (shut == all.end()) return std::nullopt;
    return static_cast<std::size_t>(shut - all.begin());
}

void doubt_shut(std::size_t position, const EngineLayout& layout, Eigen::ArrayXd& low_pct,
                Eigen::ArrayXd& high_pct) {
    const auto shut = static_cast<Eigen::Index>(position);
    // What is one's second compression and what the other's first can only be told by their shapes: the other
    // may be as low as any, and as high.
    if (const auto other = fires_a_turn_later(layout.firing_tdc_deg(), position)) {
        low_pct[shut] = 100;
        low_pct[static_cast<Eigen::Index>(*other)] = low_pct.minCoeff();
        high_pct[static_cast<Eigen::Index>(*other)] = 100;
    }
    low_pct[shut] = 0;
    high_pct[shut] = 100;
}

Notice shut_exhaust_notice(std::size_t position, const EngineLayout& layout,
                           const std::vector<CylinderName>& names) {
    const auto other = fires_a_turn_later(layout.firing_tdc_deg(), position);
    return {"exhaust-stays-shut",
            fmt::format("The exhaust valve of {} seems not to open: it compresses a second time, a turn "
                        "after its firing TDC. Its own compression cannot be told{}, and without that second "
                        "one the others would look weak. Look at rocker, pushrod, lifter and cam lobe there "
                        "(or whether a deactivation system holds its valves shut), then record again",
                        names[position].label,
                        other ? fmt::format(", that of {} only roughly", names[*other].label) : "")};
}

}  // namespace evenstroke::contribution
