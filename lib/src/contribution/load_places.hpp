// The places of a folded load that firing intervals may begin at, each fitted. Private to the library.
#pragma once

#include <vector>

#include "fit.hpp"
#include "interval.hpp"

namespace evenstroke::contribution {

/// One fit for each of `offsets_deg`, the likeliest first. Where there are several, only those remain that
/// are not excluded beside it.
[[nodiscard]] std::vector<FitResult> fit_load_places(const FitData& data, const EngineLayout& layout,
                                                     const std::vector<double>& offsets_deg);

/// Widens the intervals of `found` to hold those of `rival` too.
void hold_both(Contributions& found, const Contributions& rival);

/// Says that they do.
[[nodiscard]] Notice load_fits_twice();

}  // namespace evenstroke::contribution
