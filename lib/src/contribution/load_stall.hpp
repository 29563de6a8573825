// Whether the starter all but stands still on a compression.
#pragma once

#include <optional>

#include "cycle_average.hpp"

namespace evenstroke::contribution {

/// Seconds for which the load stays at its standstill value in a usual cycle; empty when it does not, or when
/// no `inrush` (the load at standstill, in the load's unit) was recorded. While the crank stands the charge
/// leaks and cools, so that its peak is the stall's and not the cylinder's.
[[nodiscard]] std::optional<double> stall_s(const CycleAverage& average, std::optional<double> inrush);

}  // namespace evenstroke::contribution
