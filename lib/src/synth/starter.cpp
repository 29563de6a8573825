#include "synth/starter.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::synth {

namespace {

/// Time in which the arc across the opening contact takes the current down by 1/e.
constexpr double arc_s = 0.8e-3;
/// Brush drop rises with this current and is then nearly constant: a carbon contact's behaviour.
constexpr double brush_knee_a = 30;
/// Beyond this share of the largest current the "most power" point is passed.
constexpr double most_power_share = 0.45;

}  // namespace

double constant_at(const Circuit& circuit, double current_a) {
    if (circuit.saturation_a <= 0) return circuit.constant_v_s;
    return circuit.constant_v_s * (1 - std::exp(-std::abs(current_a) / circuit.saturation_a));
}

double torque_nm(const Circuit& circuit, double current_a) {
    return circuit.efficiency_ratio * constant_at(circuit, current_a) * current_a;
}

double battery_v(const Circuit& circuit, const CircuitState& state) {
    return circuit.open_v - state.sag_v - circuit.battery_ohm * state.current_a;
}

void step_closed(const Circuit& circuit, CircuitState& state, double speed_rad_s, double dt_s) {
    const double brush = circuit.brush_v * state.current_a / (std::abs(state.current_a) + brush_knee_a);
    const double back_emf = constant_at(circuit, state.current_a) * speed_rad_s;
    const double drive_v = circuit.open_v - state.sag_v - brush - back_emf;
    state.current_a = (state.current_a + dt_s / circuit.inductance_h * drive_v) /
                      (1 + dt_s / circuit.inductance_h * circuit.resistance_ohm);
    state.sag_v += (circuit.sag_ohm * state.current_a - state.sag_v) * dt_s / circuit.sag_s;
}

void step_open(const Circuit& circuit, CircuitState& state, double dt_s) {
    state.current_a *= std::exp(-dt_s / arc_s);
    state.sag_v += (circuit.sag_ohm * state.current_a - state.sag_v) * dt_s / circuit.sag_s;
}

double constant_for(const Circuit& circuit, double load_nm, double speed_rad_s) {
    // Power balance: efficiency * i * (V - R i) = load * speed; the smaller current of the two.
    const double drive_v = circuit.open_v - circuit.brush_v;
    const double ohm = circuit.resistance_ohm + circuit.sag_ohm;
    const double power = load_nm * speed_rad_s / circuit.efficiency_ratio;
    const double root = drive_v * drive_v - 4 * ohm * power;
    double current = most_power_share * drive_v / ohm;
    if (root > 0) current = std::min(current, (drive_v - std::sqrt(root)) / (2 * ohm));
    const double field = circuit.saturation_a > 0 ? 1 - std::exp(-current / circuit.saturation_a) : 1;
    return (drive_v - ohm * current) / (field * speed_rad_s);
}

Circuit make_circuit(const SynthStarter& starter, const SynthBattery& battery) {
    Circuit circuit;
    circuit.open_v = battery.open_v;
    circuit.battery_ohm = battery.resistance_mohm / 1000;
    circuit.resistance_ohm = (battery.resistance_mohm + battery.cable_mohm + starter.resistance_mohm) / 1000;
    circuit.sag_ohm = battery.sag_mohm / 1000;
    circuit.sag_s = battery.sag_s;
    circuit.inductance_h = starter.inductance_uh * 1e-6;
    circuit.brush_v = starter.brush_v;
    circuit.saturation_a = starter.kind == StarterKind::series ? starter.saturation_a : 0;
    circuit.efficiency_ratio = starter.efficiency_ratio;
    return circuit;
}

}  // namespace evenstroke::synth
