// Whether a trace stands upside down: a transducer's or a gauge's whose leads are the wrong way round.
#pragma once

#include <span>

namespace evenstroke::pressure {

/// True when readings at `rate_hz` fall with the pressure: brief excursions downwards, there and back, or a
/// staircase that descends. False when neither is plain.
[[nodiscard]] bool upside_down(std::span<const float> kpa, double rate_hz);

}  // namespace evenstroke::pressure
