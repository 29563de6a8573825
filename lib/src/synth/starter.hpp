// Battery, cables and starter motor, seen at the crank: current, torque and the state that carries on.
#pragma once

#include "evenstroke/synth.hpp"

namespace evenstroke::synth {

/// The electrical circuit in SI units. One brush and gear set: all "at the crank" values have the ratio in.
struct Circuit {
    double open_v = 12.6;
    double resistance_ohm = 0.019;  ///< whole loop
    double battery_ohm = 0.005;     ///< the part inside the battery
    double sag_ohm = 0;
    double sag_s = 1;
    double inductance_h = 40e-6;
    double brush_v = 0;
    double constant_v_s = 0.4;  ///< torque constant at the crank: N·m/A without losses, V s/rad
    double saturation_a = 0;    ///< of a series field; 0: the field is constant
    double efficiency_ratio = 1;
};

struct CircuitState {
    double current_a = 0;
    double sag_v = 0;
};

/// Torque constant at this current.
[[nodiscard]] double constant_at(const Circuit& circuit, double current_a);
/// Torque at the crank, N·m.
[[nodiscard]] double torque_nm(const Circuit& circuit, double current_a);
/// Voltage across the battery's posts.
[[nodiscard]] double battery_v(const Circuit& circuit, const CircuitState& state);
/// One step with the contact closed; `speed_rad_s` is the rotor's, at the crank. Implicit in the current.
void step_closed(const Circuit& circuit, CircuitState& state, double speed_rad_s, double dt_s);
/// One step with the contact open: the arc lets the current die in about a millisecond.
void step_open(const Circuit& circuit, CircuitState& state, double dt_s);

/// The torque constant with which the circuit drives `load_nm` at `speed_rad_s` in the steady state, the
/// sag built up. Where the battery cannot give that power, the constant of the most power it can give.
[[nodiscard]] double constant_for(const Circuit& circuit, double load_nm, double speed_rad_s);

[[nodiscard]] Circuit make_circuit(const SynthStarter& starter, const SynthBattery& battery);

}  // namespace evenstroke::synth
