// What the compressions show without a model: where none can be fitted it is all there is.
#pragma once

#include <optional>

#include "evenstroke/pressure.hpp"
#include "pulses.hpp"

namespace evenstroke::pressure {

/// Empty where no compression has its intake and exhaust stroke in the recording.
[[nodiscard]] std::optional<BarePressure> bare_pressure(const PulseTrain& train, const Pressure& p);

}  // namespace evenstroke::pressure
