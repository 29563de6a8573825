// Faults of a measuring chain: found, mended where that is honest, and named.
#pragma once

#include <span>
#include <vector>

#include "evenstroke/recording.hpp"

namespace evenstroke::trace {

/// Runs of samples held at a rail: at the highest (`top`) or lowest (`bottom`) value seen, entered and left
/// steeply. A smooth top that a coarse converter draws as a flat run is not one. Ask only for the rail away
/// from rest: a clean rest is as flat as a rail.
[[nodiscard]] std::vector<Span> find_clipping(std::span<const float> values, bool top, bool bottom);

/// Replaces single-sample to three-sample spikes by the line between their neighbours; returns how many.
std::size_t remove_spikes(std::span<float> values);

/// Mains hum as seen while nothing else happens.
struct Hum {
    double frequency_hz = 0;
    double amplitude = 0;
};

/// The stronger of 50 and 60 Hz in `quiet` (the resting part), amplitude 0 when it holds no three periods.
[[nodiscard]] Hum find_hum(std::span<const float> quiet, double rate_hz);

/// Takes the hum and its second and third harmonics out of `values` with narrow zero-phase notches.
void remove_hum(std::span<float> values, double rate_hz, double frequency_hz);

}  // namespace evenstroke::trace
