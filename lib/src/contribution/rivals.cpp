#include "rivals.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace evenstroke::contribution {

namespace {

/// A low compression ratio takes more of the peak than of the torque. In noise a loss of it looks like a
/// smaller one of charge, with worse fits between, so that a search ends at either. Tried where the peak lies
/// between these shares of the highest: more than that is no piston's, less hardly matters.
constexpr double least_peak_ratio = 0.5, most_peak_ratio = 0.95;
/// Each costs at most as much as two finalists of the search.
constexpr std::size_t most_tried = 3;
/// Of charge, or of the ratio less 1, in the prior's standard deviations: a fifth.
constexpr double lost_unknown = -8;
/// A search that is begun elsewhere ends within this of the same fit; the interval has that already.
constexpr double same_fit_ratio = 0.03;
/// One that is likelier by this much (2 ln 400) is taken for the estimate; one by less made it no better, on
/// engines of the synth.
constexpr double taken_cost = 12;
/// Most do, and after a few steps stand within this of it already; those are followed no further.
constexpr int rival_look_steps = 8;
constexpr double on_its_way_ratio = 0.012;

std::vector<Eigen::Index> doubtful(const Eigen::ArrayXd& ratio) {
    std::vector<Eigen::Index> found;
    for (Eigen::Index c = 0; c < ratio.size(); ++c)
        if (ratio[c] > least_peak_ratio && ratio[c] < most_peak_ratio) found.push_back(c);
    std::sort(found.begin(), found.end(), [&](auto a, auto b) { return ratio[a] < ratio[b]; });
    found.resize(std::min(found.size(), most_tried));
    return found;
}

}  // namespace

void widen(FitResult& fit, const FitResult& other) {
    if (fit.least_ratio.size() == 0) fit.least_ratio = fit.most_ratio = peak_ratios(fit);
    const Eigen::ArrayXd ratio = peak_ratios(other);
    const bool alone = other.least_ratio.size() == 0;
    fit.least_ratio = fit.least_ratio.min(alone ? ratio : other.least_ratio).eval();
    fit.most_ratio = fit.most_ratio.max(alone ? ratio : other.most_ratio).eval();
}

void replace(FoundFit& best, FoundFit better) {
    better.fit.maybe_shut = best.fit.maybe_shut;
    widen(better.fit, best.fit);
    best = std::move(better);
}

void look_for_rivals(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                     FoundFit& best) {
    Eigen::ArrayXd ratio = peak_ratios(best.fit);
    for (const Eigen::Index c : doubtful(ratio))
        for (const Own lost : {own_charge, own_ratio}) {
            FitPoint point = improve(data, layout, options, with_loss(best.point, c, lost, lost_unknown),
                                     rival_look_steps);
            const Eigen::ArrayXd looked_at = peak_ratios(describe(data, layout, options, point));
            if (std::abs(looked_at[c] - ratio[c]) < on_its_way_ratio) continue;
            FoundFit rival = fit_from(data, layout, options, std::move(point));
            if (!(rival.fit.cost < best.fit.cost + still_likely_cost)) continue;
            // Where this cylinder reads the same by it, the others may not.
            if (rival.fit.cost < best.fit.cost - taken_cost) {
                replace(best, std::move(rival));
                ratio = peak_ratios(best.fit);
            } else if (std::abs(peak_ratios(rival.fit)[c] - ratio[c]) >= same_fit_ratio) {
                widen(best.fit, rival.fit);
            }
        }
}

}  // namespace evenstroke::contribution
