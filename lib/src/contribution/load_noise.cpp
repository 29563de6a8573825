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
/// A value anywhere within a step is off by this share of it (root mean square of an even spread).
const double off_in_step = 1 / std::sqrt(12.0);

}  // namespace

double converter_step(std::span<const double> load) {
    if (load.size() < 2) return 0;
    const auto [low, high] = std::minmax_element(load.begin(), load.end());
    std::vector<double> changes;
    for (std::size_t k = 1; k < load.size(); ++k)
        if (const double change = std::abs(load[k] - load[k - 1]); change > same_share * (*high - *low))
            changes.push_back(change);
    const auto repeats = static_cast<double>(load.size() - changes.size()) / static_cast<double>(load.size());
    return changes.empty() || repeats < least_repeats ? 0 : signal::median(std::move(changes));
}

double slow_noise(const LoadSamples& samples, const CycleAverage& average) {
    double square = std::pow(off_in_step * converter_step(samples.load), 2);
    const auto cycles = static_cast<double>(average.cycles.rows());
    if (cycles >= 2) {
        const Eigen::ArrayXd mean = average.cycles.colwise().mean().transpose();
        for (const auto cycle : average.cycles.rowwise())
            square += std::pow(slow_rms(cycle.transpose() - mean), 2) / (cycles - 1) / cycles;
    }
    return std::sqrt(square);
}

}  // namespace evenstroke::contribution
