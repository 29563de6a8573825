// The search for the best fit: several starts, of which the better ones go on.
#pragma once

#include <vector>

#include "fit.hpp"

namespace evenstroke::contribution {

/// Several starts (inertia, share of the starter, constant or saturating flux) at every candidate of TDC; a
/// few steps each, then the best to the end. `offsets_deg` is not empty.
[[nodiscard]] FitResult fit_best(FitData data, const EngineLayout& layout,
                                 const std::vector<double>& offsets_deg);

}  // namespace evenstroke::contribution
