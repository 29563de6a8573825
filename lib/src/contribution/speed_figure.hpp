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

/// Widens the figure's interval so far that it holds `rpm`: the crank swings by a third and more within a
/// cycle, so that where in it a recording ends moves a mean with parts of cycles beyond what whole cycles
/// scatter.
void include(Figure& speed_rpm, double rpm);

}  // namespace evenstroke::contribution
