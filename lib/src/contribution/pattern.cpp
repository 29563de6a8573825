#include "pattern.hpp"

#include <fmt/core.h>

namespace evenstroke::contribution {

namespace {

constexpr int fewest_repeats = 3;
/// Share of the variance between cylinders that the pattern must explain.
constexpr double explained_share = 0.85;

}  // namespace

std::optional<int> repeating_pattern(const Eigen::ArrayXd& contribution_pct, double least_points) {
    const auto n = static_cast<int>(contribution_pct.size());
    const double total = (contribution_pct - contribution_pct.mean()).square().sum();
    for (int period = 2; period * fewest_repeats <= n; ++period) {
        if (n % period != 0) continue;
        Eigen::ArrayXd mean = Eigen::ArrayXd::Zero(period);
        for (int k = 0; k < n; ++k) mean[k % period] += contribution_pct[k] * period / n;
        const double depth = mean.maxCoeff() - mean.minCoeff();
        const double explained = (mean - mean.mean()).square().sum() * n / period;
        if (depth >= least_points && explained >= explained_share * total) return period;
    }
    return std::nullopt;
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
