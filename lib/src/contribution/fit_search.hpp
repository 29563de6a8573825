// The search for the best fit: several starts, of which the better ones go on.
#pragma once

#include <span>
#include <vector>

#include "fit.hpp"

namespace evenstroke::contribution {

/// The trials see the data through this error of the model, so that the priors lead; then it is narrowed.
inline constexpr double usual_trial_noise_share = 0.08;

/// A search that ends with a greater missed_share() may have missed its way.
inline constexpr double poor_misfit_share = 0.04;

/// Several starts (inertia, share of the starter, constant or saturating flux) at every candidate of TDC; a
/// few steps each with an error of `trial_noise_share` of the swing, then the best to the end. `offsets_deg`
/// is not empty.
[[nodiscard]] FitResult fit_best(const FitData& data, const EngineLayout& layout,
                                 const std::vector<double>& offsets_deg,
                                 double trial_noise_share = usual_trial_noise_share);

/// A search that ended where the model misses a good part of the trace may have missed the way that leads to
/// the engine: trials that see the data less, or more, sharply take another, so these are tried until one
/// follows the trace. The likeliest of all is returned.
[[nodiscard]] FitResult or_retry(FitResult fit, const FitData& data, const EngineLayout& layout,
                                 const std::vector<double>& offsets_deg,
                                 std::span<const double> trial_noise_shares);

/// fit_best() with the first of `trial_noise_shares`, then or_retry() with the others.
[[nodiscard]] FitResult fit_or_retry(const FitData& data, const EngineLayout& layout,
                                     const std::vector<double>& offsets_deg,
                                     std::span<const double> trial_noise_shares);

}  // namespace evenstroke::contribution
