#include "vacuum.hpp"

#include "signal/levels.hpp"

namespace evenstroke::pressure {

namespace {

/// A drifting zero and noise (common practice, no published source).
constexpr double explained_kpa = 20;
/// Of the samples: fewer are spikes.
constexpr double low_share = 0.005;

}  // namespace

std::optional<double> below_vacuum_kpa(const Pressure& p, double rest_kpa) {
    const double low_kpa = signal::quantile(p.kpa, low_share) - rest_kpa + p.ambient_kpa;
    if (low_kpa > -explained_kpa) return std::nullopt;
    return -low_kpa;
}

}  // namespace evenstroke::pressure
