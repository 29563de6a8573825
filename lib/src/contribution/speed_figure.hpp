// The mean speed of cranking with its interval.
#pragma once

#include <optional>
#include <span>

#include "cycle_angle.hpp"
#include "cycle_average.hpp"
#include "evenstroke/contribution.hpp"

namespace evenstroke::contribution {

/// Mean speed from one time to a later one, parts of cycles counted by how the crank turns within one.
[[nodiscard]] double speed_between_rpm(const PhaseMap& phases, const CycleAngle& within, double from_s,
                                       double to_s);

/// `rpm`, a mean speed over settled cycles, with the 95 % interval of that mean from the scatter of
/// their `periods_s`; empty when fewer than two periods tell none.
[[nodiscard]] std::optional<Figure> speed_figure(double rpm, std::span<const double> periods_s);

}  // namespace evenstroke::contribution
