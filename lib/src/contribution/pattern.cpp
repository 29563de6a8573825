#include "pattern.hpp"

#include <fmt/core.h>

namespace evenstroke::contribution {

namespace {

constexpr int fewest_repeats = 3;
/// A cylinder below this is lost for a reason of its own: no reference and no timing takes so much.
constexpr double least_in_pattern_pct = 40;
/// Share of the variance between cylinders that the pattern must explain.
constexpr double explained_share = 0.85;

}  // namespace

std::optional<int> repeating_pattern(const Eigen::ArrayXd& contribution_pct, double least_points) {
    const auto n = static_cast<int>(contribution_pct.size());
    const Eigen::ArrayXd in_pattern = (contribution_pct >= least_in_pattern_pct).cast<double>();
    const double overall = (contribution_pct * in_pattern).sum() / in_pattern.sum();
    const double total = ((contribution_pct - overall).square() * in_pattern).sum();
    for (int period = 2; period * fewest_repeats <= n; ++period) {
        if (n % period != 0) continue;
        Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(period), count = Eigen::ArrayXd::Zero(period);
        for (int k = 0; k < n; ++k) {
            sum[k % period] += contribution_pct[k] * in_pattern[k];
            count[k % period] += in_pattern[k];
        }
        if (count.minCoeff() < fewest_repeats) continue;
        const Eigen::ArrayXd mean = sum / count;
        const double depth = mean.maxCoeff() - mean.minCoeff();
        const double explained = ((mean - overall).square() * count).sum();
        if (depth >= least_points && explained >= explained_share * total) return period;
    }
    return std::nullopt;
}

void spare_pattern(const Eigen::ArrayXd& contribution_pct, Eigen::ArrayXd& high_pct) {
    high_pct = (contribution_pct >= least_in_pattern_pct).select(100, high_pct);
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
