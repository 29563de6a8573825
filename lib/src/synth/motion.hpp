// A run of the plant: what it did at every step, and the truth about its compressions.
#pragma once

#include <vector>

#include "synth/plant.hpp"

namespace evenstroke::synth {

inline constexpr double step_s = 50e-6;  ///< 0.06 degrees at 200 rpm; the fastest mode (clutch) is 20 steps

/// [steps] each, at t = i * step_s.
struct Motion {
    std::vector<float> current_a;    ///< without commutation ripple
    std::vector<float> battery_v;    ///< without commutation ripple
    std::vector<double> angle_rad;   ///< crank
    std::vector<double> rotor_rad;   ///< rotor, at the crank
    std::vector<float> torque_nm;    ///< of the starter at the crank, before gear losses
    std::vector<float> friction_nm;  ///< of the engine
    std::vector<float> pressure_pa;  ///< absolute, of one cylinder or of its gauge, where asked for
};

struct Run {
    Motion motion;
    SynthTruth truth;
};

/// Runs the engine through its cranking. Throws Error{unusable} when it does not turn two whole cycles.
[[nodiscard]] Run simulate(const SynthOptions& options, std::uint64_t seed);

}  // namespace evenstroke::synth
