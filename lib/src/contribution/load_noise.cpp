#include "load_noise.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

namespace {

/// Two samples nearer than this share of the load's range are the same: a drift taken off moves a step by
/// less between them, and no converter that matters here has finer steps.
constexpr double same_share = 1e-5;
/// So many of the samples repeat the one before where the steps show.
constexpr double least_repeats = 0.5;
/// A converter's levels are evenly spaced: nearly all changes are whole numbers of steps, within this share
/// of one. Samples that were held for a while repeat too, but change by any amount.
constexpr double off_level = 0.1, least_on_level = 0.9;
/// What steps leave of themselves in the slow part of a folded cycle, in steps: at most so much, where the
/// swing is no higher than a step and nothing blurs it (rounded sines, folded; less with noise or more
/// swing).
constexpr double left_of_step = 0.17;

}  // namespace

double converter_step(std::span<const double> load) {
    if (load.size() < 2) return 0;
    const auto [low, high] = std::minmax_element(load.begin(), load.end());
    std::vector<double> changes;
    for (std::size_t k = 1; k < load.size(); ++k)
        if (const double change = std::abs(load[k] - load[k - 1]); change > same_share * (*high - *low))
            changes.push_back(change);
    const auto repeats = static_cast<double>(load.size() - changes.size()) / static_cast<double>(load.size());
    if (changes.empty() || repeats < least_repeats) return 0;
    const double step = signal::median(changes);
    const auto on_level = std::count_if(changes.begin(), changes.end(), [step](double change) {
        return change > 0.5 * step && std::abs(std::remainder(change, step)) < off_level * step;
    });
    return static_cast<double>(on_level) < least_on_level * static_cast<double>(changes.size()) ? 0 : step;
}

double slow_noise(const LoadSamples& samples, const CycleAverage& average) {
    double square = std::pow(left_of_step * converter_step(samples.load), 2);
    const auto cycles = static_cast<double>(average.cycles.rows());
    if (cycles >= 2) {
        const Eigen::ArrayXd mean = average.cycles.colwise().mean().transpose();
        for (const auto cycle : average.cycles.rowwise())
            square += std::pow(slow_rms(cycle.transpose() - mean), 2) / (cycles - 1) / cycles;
    }
    return std::sqrt(square);
}

}  // namespace evenstroke::contribution
