// The search for the best fit: several starts, of which the better ones go on.
#pragma once

#include <vector>

#include "fit.hpp"

namespace evenstroke::contribution {

/// The trials see the data through this error of the model, so that the priors lead; then it is narrowed.
inline constexpr double usual_trial_noise_share = 0.08;

/// Several starts (inertia, share of the starter, constant or saturating flux) at every candidate of TDC; a
/// few steps each with an error of `trial_noise_share` of the swing, then the best to the end. `offsets_deg`
/// is not empty.
[[nodiscard]] FitResult fit_best(FitData data, const EngineLayout& layout,
                                 const std::vector<double>& offsets_deg,
                                 double trial_noise_share = usual_trial_noise_share);

}  // namespace evenstroke::contribution
