// Other fits of the same cycle that cannot be excluded: another kind of loss, and another size of it.
#pragma once

#include "fit.hpp"

namespace evenstroke::contribution {

/// A fit belongs into a 95 % interval unless it is twenty times unlikelier (2 ln 20).
inline constexpr double still_likely_cost = 6;

/// Makes the limits of `fit` hold its own peaks and all that `other` gives.
void widen(FitResult& fit, const FitResult& other);

/// Makes `better` the best; its limits hold what the former gave, and a shut valve that was possible stays
/// so.
void replace(FoundFit& best, FoundFit better);

/// Fits `data` from where `best` stands with a loss of charge, and of compression ratio, in each cylinder
/// that has lost something, and widens the limits of `best` by those that are about as likely. One that is
/// likelier by far is the best from then on.
void look_for_rivals(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                     FoundFit& best);

}  // namespace evenstroke::contribution
