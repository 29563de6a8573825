#include "synth/gauge.hpp"

namespace evenstroke::synth {

namespace {

/// A compression gauge, from general knowledge: half a metre of hose of 5 mm with the dial's tube; the
/// effective area of a valve core; the spring that is left in it for this use.
constexpr double hose_m3 = 12e-6;
constexpr double check_area_m2 = 1.5e-6;
constexpr double check_spring_pa = 15e3;

}  // namespace

double Gauge::pressure_pa() const {
    return mass_kg * gas_constant * air_k / hose_m3;
}

Gauge empty_gauge(std::size_t cylinder, const SynthEngine& engine) {
    return {cylinder, engine.ambient_kpa * 1000 * hose_m3 / (gas_constant * engine.air_k), engine.air_k};
}

void breathe(Gauge& gauge, Gas& gas, double dt_s) {
    const double against_pa = gauge.pressure_pa() + check_spring_pa;
    if (gas.pressure_pa <= against_pa) return;
    const double k = heat_ratio(gas.temperature_k);
    const double mass = dt_s * orifice_flow(check_area_m2, gas.pressure_pa, gas.temperature_k, against_pa, k);
    gauge.mass_kg += mass;
    drain(gas, mass, k);
}

}  // namespace evenstroke::synth
