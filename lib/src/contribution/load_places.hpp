// The places of a folded load that firing intervals may begin at, each fitted. Private to the library.
#pragma once

#include <vector>

#include "cycle_average.hpp"
#include "evenstroke/angle.hpp"
#include "evenstroke/error.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// Degrees from where folding begins, a sync's mark, to position 0's TDC.
[[nodiscard]] double lead_of(const CrankAngle& angle);

/// The places of TDC from which the fit is tried, degrees after where folding begins; none where nothing
/// stands out.
[[nodiscard]] std::vector<double> offsets_to_try(const CycleAverage& average, const CrankAngle& angle,
                                                 const EngineLayout& layout);

/// A fit whose misfit is not twice as great as another's (40 ln 2.1²) is not excluded. On engines of the
/// synth whose cylinders all compress the misfit at a wrong place was more than five times as great; with a
/// dead cylinder in an uneven twin, whose one compression may be either's, half as great.
inline constexpr double not_excluded_cost = 60;

/// One fit for each of `offsets_deg`, the likeliest first. Where there are several, only those remain that
/// are not excluded beside it.
[[nodiscard]] std::vector<FitResult> fit_load_places(const FitData& data, const EngineLayout& layout,
                                                     const std::vector<double>& offsets_deg);

/// Says that the firing intervals fit the load in more than one place.
[[nodiscard]] Notice load_fits_twice_notice();

}  // namespace evenstroke::contribution
