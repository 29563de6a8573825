// From pulses to the fitted model: which readings are used, and how far each is trusted.
#pragma once

#include <optional>
#include <vector>

#include "evenstroke/pressure.hpp"
#include "gas_fit.hpp"
#include "pulses.hpp"

namespace evenstroke::pressure {

struct Solution {
    FitResult shared;                               ///< of the pulses in `used`
    std::vector<std::size_t> used;                  ///< indices into the train, ascending
    std::vector<std::optional<PulseState>> pulses;  ///< [pulses of the train]
    std::vector<GasCurve> curves;                   ///< [pulses of the train]; empty where none was fitted
    std::vector<double> tdc_sd_s;                   ///< [pulses of the train]
    StrokeTable table;
    /// The crank slows so much near TDC that its swing and a leak can be taken for one another.
    bool wide_swing = false;
    bool ratio_fitted = false;  ///< none was given, or the pressure contradicts what was
};

/// Fits the model to `train`. Empty when no pulse lies whole in the recording.
[[nodiscard]] std::optional<Solution> solve(const Pressure& result, const PulseTrain& train);

}  // namespace evenstroke::pressure
