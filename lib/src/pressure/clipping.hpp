// Where the trace says less than the pressure did: tops at the end of the range, a reading that stands still.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Bridges over-range runs too short for a clipped top by straight lines, and takes them out of `over_range`:
/// they join `bridged`.
void bridge_lone(Pressure& p, std::vector<Span>& over_range);

/// Whether the highest readings are tops cut off by the range.
[[nodiscard]] bool flat_tops(std::span<const float> kpa, double rate_hz);

/// Since when the reading has stood still to the recording's end; empty where it moves, or stood as still
/// before.
[[nodiscard]] std::optional<double> stuck_from_s(const Pressure& p);

/// The reading below which the transducer or the range shows nothing, as that of a gauge that stops at 0:
/// held again and again, by a signal that is fine elsewhere. Empty where there is none.
[[nodiscard]] std::optional<float> held_floor(std::span<const float> kpa, double rate_hz);

}  // namespace evenstroke::pressure
