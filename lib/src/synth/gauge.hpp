// A compression gauge in a plug hole: a check valve, then a hose that holds what came in.
#pragma once

#include <cstddef>

#include "evenstroke/synth.hpp"
#include "synth/gas.hpp"

namespace evenstroke::synth {

/// The hose keeps the temperature of the air around it.
struct Gauge {
    std::size_t cylinder = 0;
    double mass_kg = 0;
    double air_k = 293;

    [[nodiscard]] double pressure_pa() const;
};

/// A gauge at the outside's pressure.
[[nodiscard]] Gauge empty_gauge(std::size_t cylinder, const SynthEngine& engine);

/// Lets `gas` through the check valve for `dt_s`; it opens towards the gauge alone.
void breathe(Gauge& gauge, Gas& gas, double dt_s);

}  // namespace evenstroke::synth
