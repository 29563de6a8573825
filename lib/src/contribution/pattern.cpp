#include "pattern.hpp"

#include <fmt/core.h>

#include <vector>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

namespace {

constexpr int fewest_repeats = 3;
/// Share of the variance between cylinders that the pattern must explain.
constexpr double explained_share = 0.8;
/// A cylinder that stands lower by this than its fellows of the same place in the period is lost for a reason
/// of its own, and the pattern may lie beneath.
constexpr double own_loss_points = 30;

/// Whether the cylinders of `part` alone make a pattern of this period.
bool repeats(const Eigen::ArrayXd& pct, const PatternPart& part, int period, double least_points) {
    Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(period), count = Eigen::ArrayXd::Zero(period);
    for (Eigen::Index k = 0; k < pct.size(); ++k)
        if (part[k]) {
            sum[k % period] += pct[k];
            count[k % period] += 1;
        }
    if (count.minCoeff() < fewest_repeats) return false;
    const Eigen::ArrayXd mean = sum / count;
    const double overall = sum.sum() / count.sum();
    const double total = part.select((pct - overall).square(), 0.0).sum();
    const double explained = ((mean - overall).square() * count).sum();
    return mean.maxCoeff() - mean.minCoeff() >= least_points && explained >= explained_share * total;
}

/// All but those that have lost something of their own.
PatternPart without_own_losses(const Eigen::ArrayXd& pct, int period) {
    PatternPart part = PatternPart::Constant(pct.size(), true);
    for (int first = 0; first < period; ++first) {
        std::vector<double> fellows;
        for (Eigen::Index k = first; k < pct.size(); k += period) fellows.push_back(pct[k]);
        const double usual = signal::median(fellows);
        for (Eigen::Index k = first; k < pct.size(); k += period) part[k] = pct[k] > usual - own_loss_points;
    }
    return part;
}

}  // namespace

std::optional<RepeatingPattern> repeating_pattern(const Eigen::ArrayXd& contribution_pct,
                                                  double least_points) {
    const auto n = static_cast<int>(contribution_pct.size());
    const PatternPart all = PatternPart::Constant(n, true);
    for (const bool own_losses : {false, true})
        for (int period = 2; period * fewest_repeats <= n; ++period) {
            if (n % period != 0) continue;
            const PatternPart part = own_losses ? without_own_losses(contribution_pct, period) : all;
            if (repeats(contribution_pct, part, period, least_points))
                return RepeatingPattern{.period = period, .part = part};
        }
    return std::nullopt;
}

void spare_pattern(const RepeatingPattern& pattern, Eigen::ArrayXd& high_pct) {
    high_pct = pattern.part.select(100, high_pct).eval();
}

Notice repeating_notice(int period) {
    return {
        "repeating-pattern",
        fmt::format(
            "the loss repeats every {} cylinders around the cycle, which a shifted reference or one bank's "
            "valve timing would also cause: no cylinder is condemned on it; check the sync lead, the "
            "intervals "
            "and the valve timing",
            period)};
}

}  // namespace evenstroke::contribution
