// The spike with which a coil answers when it is switched off.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::signal {

/// `values` without the spikes of an injector's or a valve's coil: it rests at the supply, is pulled down for
/// some milliseconds, and on letting go kicks far beyond rest, for much less time (common practice, no
/// published source). Such spikes are cut off at rest, either way up; any other signal is returned as it is.
[[nodiscard]] std::vector<float> without_flyback(std::span<const float> values, double rate_hz);

}  // namespace evenstroke::signal
