#include "common_scale.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::findings {

namespace {

/// Positions whose ratio is defined and that are at least `least_pct` in both.
std::vector<std::size_t> candidates(const Means& first, const Means& second, double least_pct) {
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < first.size(); ++i)
        if (first[i] > 0 && second[i] > 0 && first[i] >= least_pct && second[i] >= least_pct)
            found.push_back(i);
    return found;
}

}  // namespace

std::vector<std::size_t> steady_positions(const Means& first_pct, const Means& second_pct, double weak_pct) {
    auto found = candidates(first_pct, second_pct, weak_pct);
    if (found.empty()) {
        found = candidates(first_pct, second_pct, 0);
        if (found.empty()) return found;
        // Every cylinder is weak in one of them: the highest of the first has to do.
        return {*std::max_element(found.begin(), found.end(),
                                  [&](std::size_t a, std::size_t b) { return first_pct[a] < first_pct[b]; })};
    }
    const auto log_ratio = [&](std::size_t i) { return std::log(*second_pct[i] / *first_pct[i]); };
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

std::vector<double> relative_values(const std::vector<Means>& by_cycle_pct, std::size_t position,
                                    const std::vector<std::size_t>& steady, double scale_pct) {
    std::vector<double> values;
    for (const auto& cycle : by_cycle_pct) {
        const auto level = mean_of(cycle, steady, position);
        if (!level || *level <= 0 || !cycle[position]) continue;
        values.push_back(*cycle[position] / *level * scale_pct);
    }
    return values;
}

Means position_means(const std::vector<Means>& by_cycle_pct) {
    if (by_cycle_pct.empty()) return {};
    Means means(by_cycle_pct.front().size());
    for (std::size_t i = 0; i < means.size(); ++i) {
        double sum = 0;
        double count = 0;
        for (const auto& cycle : by_cycle_pct) {
            if (!cycle[i]) continue;
            sum += *cycle[i];
            ++count;
        }
        if (count > 0) means[i] = sum / count;
    }
    return means;
}

std::optional<double> mean_of(const Means& means, const std::vector<std::size_t>& positions,
                              std::size_t left_out) {
    double sum = 0;
    double count = 0;
    for (const std::size_t i : positions) {
        if (i == left_out) continue;
        if (!means[i]) return std::nullopt;
        sum += *means[i];
        ++count;
    }
    if (count == 0) return std::nullopt;
    return sum / count;
}

}  // namespace evenstroke::findings
