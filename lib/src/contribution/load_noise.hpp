// What a folded load holds beside the engine: the steps of a coarse converter, and the scatter of its cycles.
#pragma once

#include <span>

#include "cycle_average.hpp"

namespace evenstroke::contribution {

/// The step of a converter so coarse that most samples repeat the one before, and change by whole steps, in
/// the unit of the load. 0 where they do not: noise then blurs the steps, and the mean over cycles takes them
/// away.
[[nodiscard]] double converter_step(std::span<const double> load);

/// Of the slow part of the folded load (slow_rms, degrees taken as shares of the time), the most that those
/// steps and the scatter between cycles make.
[[nodiscard]] double slow_noise(const LoadSamples& samples, const CycleAverage& average);

}  // namespace evenstroke::contribution
