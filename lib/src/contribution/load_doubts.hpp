// What else than the cylinders may have made a load's folded cycle: each opens the intervals and says so.
// Private to the library.
#pragma once

#include <vector>

#include "cycle_average.hpp"
#include "evenstroke/angle.hpp"
#include "evenstroke/contribution.hpp"
#include "fit.hpp"
#include "interval.hpp"
#include "settle.hpp"

namespace evenstroke::contribution {

/// What a load's contributions were found from.
struct LoadFit {
    const CrankAngle& angle;
    const EngineLayout& layout;
    const LoadSamples& samples;
    const PhaseMap& phases;
    const AlikeCycles& cycles;
    const FitData& data;
    std::vector<FitResult> fits;  ///< those that are not excluded, the likeliest first; at least one

    [[nodiscard]] const FitResult& likeliest() const { return fits.front(); }
};

/// Opens the intervals of `found`, adds the notices to `out`, and sets its `exhaust_shut`.
void doubt(Contribution& out, Contributions& found, const LoadFit& load);

}  // namespace evenstroke::contribution
