// Whether a channel of unknown unit holds the pulses of a pressure transducer in one cylinder. Private.
#pragma once

#include <optional>
#include <span>

namespace evenstroke::trace {

/// True when the middle third of `values` lies near its lowest level but for brief peaks, as the pressure in
/// a cylinder does: it compresses for a sixth of its cycle. A starter's load rises and falls slower, and
/// stays away from `rest`, its level before and after cranking, where that is known; a pressure comes back
/// to it.
[[nodiscard]] bool brief_pulses(std::span<const float> values, double rate_hz, std::optional<double> rest);

}  // namespace evenstroke::trace
