#include "load_stall.hpp"

#include <algorithm>
#include <vector>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

namespace {

/// The load is at its top within this share of its swing. A round hump of 0.4 s stays there for 30 ms.
constexpr double top_share = 0.015;
constexpr double least_stall_s = 0.06;
/// At standstill the load is the inrush, less what the battery has lost since.
constexpr double least_of_inrush = 0.95;

/// Longest stretch at the top of one folded cycle, as a share of it.
double longest_top(const Eigen::ArrayXd& cycle) {
    const double high = cycle.maxCoeff();
    const double limit = high - top_share * (high - cycle.minCoeff());
    Eigen::Index run = 0, longest = 0;
    for (Eigen::Index k = 0; k < 2 * cycle.size(); ++k) {  // twice round, for a top across the seam
        run = cycle[k % cycle.size()] >= limit ? run + 1 : 0;
        longest = std::max(longest, run);
    }
    return static_cast<double>(std::min(longest, cycle.size())) / static_cast<double>(cycle.size());
}

}  // namespace

std::optional<double> stall_s(const CycleAverage& average, std::optional<double> inrush) {
    if (!inrush || average.cycles.rows() == 0 || average.mean.maxCoeff() < least_of_inrush * *inrush)
        return std::nullopt;
    std::vector<double> tops;
    for (Eigen::Index k = 0; k < average.cycles.rows(); ++k)
        tops.push_back(longest_top(average.cycles.row(k).transpose()) * average.period_s);
    const double usual_s = signal::median(tops);
    return usual_s > least_stall_s ? std::optional(usual_s) : std::nullopt;
}

}  // namespace evenstroke::contribution
