// Fired or motored, from one pulse alone and without geometry.
#pragma once

#include <optional>
#include <span>

namespace evenstroke::pressure {

/// Where a pulse stands in its readings.
struct PulsePlace {
    std::size_t top = 0;    ///< sample of the peak
    double half_width = 0;  ///< samples between the half heights of its flanks
};

/// How steeply the volume, as p^(-1/n) tells it, falls towards the peak over how steeply it rises after it,
/// at the steepest of either side. Equal volumes at equal pressures give 1; losses less, a gas that was
/// heated at its top more: as the nth root of the expansion's pressure over the compression's at equal
/// volume. A crank that runs faster after the peak than before lowers it by as much. Readings plus
/// `shift_kpa` stand at `ambient_kpa` between the strokes. Empty when a flank is not in the recording.
[[nodiscard]] std::optional<double> heated_ratio(std::span<const float> kpa, double shift_kpa,
                                                 double ambient_kpa, const PulsePlace& place);

}  // namespace evenstroke::pressure
