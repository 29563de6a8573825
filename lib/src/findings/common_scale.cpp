#include "common_scale.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::findings {

namespace {

double at(const Eigen::ArrayXd& values, std::size_t position) {
    return values[static_cast<Eigen::Index>(position)];
}

/// Positions whose ratio is defined and that are at least `least_pct` in both.
std::vector<std::size_t> candidates(const Eigen::ArrayXd& first, const Eigen::ArrayXd& second,
                                    double least_pct) {
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < static_cast<std::size_t>(first.size()); ++i)
        if (at(first, i) > 0 && at(second, i) > 0 && at(first, i) >= least_pct && at(second, i) >= least_pct)
            found.push_back(i);
    return found;
}

}  // namespace

std::vector<std::size_t> steady_positions(const Eigen::ArrayXd& first_pct, const Eigen::ArrayXd& second_pct,
                                          double weak_pct) {
    auto found = candidates(first_pct, second_pct, weak_pct);
    if (found.empty()) {
        found = candidates(first_pct, second_pct, 0);
        if (found.empty()) return found;
        // Every cylinder is weak in one of them: the highest of the first has to do.
        return {*std::max_element(found.begin(), found.end(), [&](std::size_t a, std::size_t b) {
            return at(first_pct, a) < at(first_pct, b);
        })};
    }
    const auto log_ratio = [&](std::size_t i) { return std::log(at(second_pct, i) / at(first_pct, i)); };
    std::vector<double> ratios;
    for (const std::size_t i : found) ratios.push_back(log_ratio(i));
    const double middle = signal::median(ratios);
    std::stable_sort(found.begin(), found.end(), [&](std::size_t a, std::size_t b) {
        return std::abs(log_ratio(a) - middle) < std::abs(log_ratio(b) - middle);
    });
    found.resize(found.size() / 2 + 1);
    std::sort(found.begin(), found.end());
    return found;
}

std::vector<double> relative_values(const Eigen::ArrayXXd& by_cycle_pct, std::size_t position,
                                    const std::vector<std::size_t>& steady, double scale_pct) {
    std::vector<double> values;
    for (Eigen::Index cycle = 0; cycle < by_cycle_pct.rows(); ++cycle) {
        const double level = mean_of(by_cycle_pct.row(cycle).transpose(), steady, position);
        const double value = by_cycle_pct(cycle, static_cast<Eigen::Index>(position)) / level * scale_pct;
        if (level > 0 && std::isfinite(value)) values.push_back(value);
    }
    return values;
}

Eigen::ArrayXd column_means(const Eigen::ArrayXXd& by_cycle_pct) {
    Eigen::ArrayXd means(by_cycle_pct.cols());
    for (Eigen::Index c = 0; c < means.size(); ++c) {
        double sum = 0;
        double count = 0;
        for (Eigen::Index cycle = 0; cycle < by_cycle_pct.rows(); ++cycle) {
            if (!std::isfinite(by_cycle_pct(cycle, c))) continue;
            sum += by_cycle_pct(cycle, c);
            ++count;
        }
        means[c] = sum / count;  // NaN for none
    }
    return means;
}

double mean_of(const Eigen::ArrayXd& means, const std::vector<std::size_t>& positions, std::size_t left_out) {
    double sum = 0;
    double count = 0;
    for (const std::size_t i : positions) {
        if (i == left_out) continue;
        sum += at(means, i);
        ++count;
    }
    return sum / count;
}

}  // namespace evenstroke::findings
