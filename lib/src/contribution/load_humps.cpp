#include "load_humps.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::contribution {

namespace {

/// The low-pass: a moving mean over this share of the mean firing interval (common practice, no published
/// source).
constexpr double smoothing_share = 0.2;

Eigen::ArrayXd smooth(const Eigen::ArrayXd& cycle, Eigen::Index reach) {
    const Eigen::Index n = cycle.size();
    Eigen::ArrayXd out(n);
    double sum = 0;
    for (Eigen::Index k = -reach; k <= reach; ++k) sum += cycle[(k + n) % n];
    for (Eigen::Index k = 0; k < n; ++k) {
        out[k] = sum / static_cast<double>(2 * reach + 1);
        sum += cycle[(k + reach + 1) % n] - cycle[(k - reach + n) % n];
    }
    return out;
}

}  // namespace

std::vector<double> simple_contribution_pct(const Eigen::ArrayXd& mean, const EngineLayout& layout,
                                            double offset_share) {
    const auto n = static_cast<Eigen::Index>(mean.size());
    const auto reach =
        static_cast<Eigen::Index>(smoothing_share * static_cast<double>(n) / layout.cylinders() / 2);
    const Eigen::ArrayXd low_passed = smooth(mean, reach);
    const std::vector<double> tdc_deg = layout.firing_tdc_deg();
    std::vector<double> hump;
    for (std::size_t c = 0; c < tdc_deg.size(); ++c) {
        const double before = layout.intervals_deg[(c + tdc_deg.size() - 1) % tdc_deg.size()] / cycle_deg / 2;
        const double after = layout.intervals_deg[c] / cycle_deg / 2;
        const double centre = tdc_deg[c] / cycle_deg + offset_share;
        const auto from = static_cast<Eigen::Index>(std::floor((centre - before) * static_cast<double>(n)));
        const auto to = static_cast<Eigen::Index>(std::ceil((centre + after) * static_cast<double>(n)));
        double highest = low_passed[((from % n) + n) % n];
        double lowest = highest;
        for (Eigen::Index k = from; k <= to; ++k) {
            const double value = low_passed[((k % n) + n) % n];
            highest = std::max(highest, value);
            lowest = std::min(lowest, value);
        }
        hump.push_back(highest - lowest);
    }
    const double best = *std::max_element(hump.begin(), hump.end());
    if (!(best > 0)) return {};
    for (double& h : hump) h *= 100 / best;
    return hump;
}

}  // namespace evenstroke::contribution
