// Whether a folded load can carry a verdict. Private to the library.
#pragma once

#include <optional>
#include <string>

#include "cycle_average.hpp"
#include "evenstroke/angle.hpp"

namespace evenstroke::contribution {

/// Why the folded cycle cannot carry a verdict; empty when it can. `flat_load`: the load hardly varies while
/// the starter turns.
[[nodiscard]] std::optional<std::string> unfit(const CycleAverage& average, const EngineLayout& layout,
                                               bool flat_load);

/// Why no engine of the layout makes the trace, as far as its swing tells, or else what to check.
[[nodiscard]] std::string misfit_reason(const Cranking& cranking, const CrankAngle& angle);

}  // namespace evenstroke::contribution
