// Other fits of the same cycle that cannot be excluded: another kind of loss, and another size of it.
#pragma once

#include "fit.hpp"

namespace evenstroke::contribution {

/// Fits `data` from the point `from` with a loss of charge, and of compression ratio, in each cylinder that
/// has lost something by `fit`, and notes there between what limits the peaks lie in those that are about as
/// likely.
void look_for_rivals(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                     const FitPoint& from, FitResult& fit);

}  // namespace evenstroke::contribution
