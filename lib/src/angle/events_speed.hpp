// How fast the compression events of a load come, and whether ever faster or slower. Private to the library.
#pragma once

#include <complex>
#include <vector>

#include "evenstroke/angle.hpp"
#include "speed_ramp.hpp"

namespace evenstroke::angle {

using Complex = std::complex<double>;

struct SettledLoad {
    std::vector<float> load;  ///< low-passed and thinned to about the working rate
    double rate_hz = 0;
    double start_s = 0;
    SpeedRamp ramp;  ///< whose steady time the load is given in
    [[nodiscard]] double duration_s() const { return static_cast<double>(load.size()) / rate_hz; }
};

/// The settled part of the load, at a steady speed so far as is known: no ramp.
[[nodiscard]] SettledLoad settled_load_of(const Trace& trace, const Cranking& cranking);

struct SteadyLoad {
    SettledLoad settled;
    double cycle_s = 0;  ///< period in steady time; 0 where nothing matches
};

/// The load in the steady time of the speed's ramp, where it has one (a speed that rises or sinks smears
/// every line of the spectrum, and no lag is a cycle throughout), and the period at which its spectrum there
/// matches the `lines` of a train of humps best, order k per cycle from 1 on.
[[nodiscard]] SteadyLoad at_even_speed(const SettledLoad& recorded, const std::vector<Complex>& lines);

}  // namespace evenstroke::angle
