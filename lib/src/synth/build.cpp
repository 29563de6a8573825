// Builds the plant at rest from what was asked for: spread from make to make, then the faults.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "synth/plant.hpp"
#include "synth/radians.hpp"

namespace evenstroke::synth {

namespace {

/// Valve timing scatters by this per per-cent of make-to-make spread: cam and lash tolerances, about a
/// degree.
constexpr double timing_deg_per_pct = 0.7;
/// Healthy ring leaks differ far more than dimensions do.
constexpr double leak_spread = 0.25;

[[noreturn]] void refuse(const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::bad_option, "--fault", problem, remedy);
}

/// The intake closing angle at which the trapped volume is `share` of that at `closes_rad`.
double late_closing(const Geometry& geometry, double closes_rad, double share) {
    const double wanted = share * volume_m3(geometry, closes_rad);
    double early = closes_rad, late = 4 * pi;  // the volume falls monotonically to firing TDC
    for (int i = 0; i < 50; ++i) {
        const double middle = (early + late) / 2;
        (volume_m3(geometry, middle) > wanted ? early : late) = middle;
    }
    return (early + late) / 2;
}

void check(const SynthFault& fault, int cylinders) {
    if (fault.position < 0 || fault.position >= cylinders)
        refuse(fmt::format("position {} of a fault is not in this engine", fault.position + 1),
               fmt::format("name one of its {} cylinders", cylinders));
    const bool leak = !counts_in_percent(fault.kind);
    if (leak && !(fault.amount >= 0 && fault.amount <= 400))
        refuse(fmt::format("a leak of {:g} mm² cannot be simulated", fault.amount), "give 0 to 400 mm²");
    if (fault.kind == FaultKind::exhaust_lift) {
        if (!(fault.amount >= 0 && fault.amount <= 100))
            refuse(fmt::format("a loss of {:g} % of the lift cannot be simulated", fault.amount),
                   "give 0 to 100 %");
        return;
    }
    if (!leak && !(fault.amount >= -60 && fault.amount <= 75))
        refuse(fmt::format("a loss of {:g} % cannot be simulated", fault.amount), "give -60 to 75 %");
    if (fault.kind == FaultKind::charge && fault.amount < 0)
        refuse("a cylinder cannot trap more than it holds", "give a loss of charge of 0 to 75 %");
    if (fault.kind == FaultKind::gasket && cylinders < 2)
        refuse("a single cylinder has no neighbour for its gasket to leak to", "choose another fault");
    if (fault.neighbour &&
        (*fault.neighbour < 0 || *fault.neighbour >= cylinders || *fault.neighbour == fault.position))
        refuse("the gasket's other cylinder is not another cylinder of this engine",
               "name two different cylinders, as in 2/3:gasket");
}

void apply(Plant& plant, const SynthFault& fault) {
    const auto count = plant.cylinders.size();
    check(fault, static_cast<int>(count));
    const auto at = static_cast<std::size_t>(fault.position);
    Cylinder& cylinder = plant.cylinders[at];
    const double area = fault.amount * 1e-6;
    switch (fault.kind) {
        case FaultKind::rings:
            cylinder.ring_leak_m2 += area;
            break;
        case FaultKind::intake_valve:
            cylinder.intake_leak_m2 += area;
            break;
        case FaultKind::exhaust_valve:
            cylinder.exhaust_leak_m2 += area;
            break;
        case FaultKind::gasket:
            plant.bridges.push_back(
                {at, fault.neighbour ? static_cast<std::size_t>(*fault.neighbour) : (at + 1) % count, area});
            break;
        case FaultKind::ratio:
            // The clearance volume grows; a ratio never falls to 1.
            cylinder.geometry.compression_ratio =
                std::max(1.5, cylinder.geometry.compression_ratio * (1 - fault.amount / 100));
            break;
        case FaultKind::charge:
            cylinder.intake_closes_rad =
                late_closing(cylinder.geometry, cylinder.intake_closes_rad, 1 - fault.amount / 100);
            break;
        case FaultKind::exhaust_lift:
            cylinder.exhaust_lift_ratio = 1 - fault.amount / 100;
            break;
    }
}

/// The engine's own, or what was said for this position; the last word holds.
double event_deg(const SynthEngine& engine, int position, double usual_deg,
                 std::optional<double> SynthTiming::*event) {
    for (const SynthTiming& timing : engine.timing)
        if (timing.position == position && timing.*event) usual_deg = *(timing.*event);
    return usual_deg;
}

Cylinder make_cylinder(const SynthEngine& engine, int position, double tdc_deg, Random& random) {
    Cylinder cylinder;
    const double spread = engine.spread_pct / 100;
    const double timing_rad = timing_deg_per_pct * engine.spread_pct * rad_per_deg;
    cylinder.tdc_rad = tdc_deg * rad_per_deg;
    cylinder.geometry = engine.geometry;
    cylinder.geometry.compression_ratio *= 1 + spread * random.normal();
    cylinder.intake_opens_rad = engine.intake_opens_deg * rad_per_deg + timing_rad * random.normal();
    const double closes_deg =
        event_deg(engine, position, engine.intake_closes_deg, &SynthTiming::intake_closes_deg);
    cylinder.intake_closes_rad = closes_deg * rad_per_deg + timing_rad * random.normal();
    const double opens_deg =
        event_deg(engine, position, engine.exhaust_opens_deg, &SynthTiming::exhaust_opens_deg);
    cylinder.exhaust_opens_rad = opens_deg * rad_per_deg + timing_rad * random.normal();
    cylinder.exhaust_closes_rad = engine.exhaust_closes_deg * rad_per_deg + timing_rad * random.normal();
    const double leak_noise = engine.spread_pct > 0 ? leak_spread * random.normal() : 0;
    cylinder.ring_leak_m2 = engine.leak_mm2 * 1e-6 * std::exp(leak_noise);
    cylinder.friction_ratio = 1 + 5 * spread * random.normal();
    return cylinder;
}

}  // namespace

Plant build_plant(const SynthOptions& options, std::uint64_t seed) {
    Plant plant;
    plant.engine = options.engine;
    plant.starter = options.starter;
    plant.circuit = make_circuit(options.starter, options.battery);
    plant.random = Random(seed);
    const SynthEngine& engine = plant.engine;
    int position = 0;
    for (const double tdc_deg : engine.layout.firing_tdc_deg())
        plant.cylinders.push_back(make_cylinder(engine, position++, tdc_deg, plant.random));
    for (const SynthFault& fault : engine.faults) apply(plant, fault);

    plant.angle_rad = options.run.start_angle_deg * rad_per_deg;
    plant.plenum_kg = engine.ambient_kpa * engine.plenum_l / (gas_constant * engine.air_k);
    for (Cylinder& cylinder : plant.cylinders) {
        const double volume = volume_m3(cylinder.geometry, plant.angle_rad - cylinder.tdc_rad);
        cylinder.gas = fill(volume, engine.ambient_kpa * 1000, engine.air_k);
        cylinder.cycle = static_cast<long>(std::floor((plant.angle_rad - cylinder.tdc_rad) / (4 * pi) + 0.5));
    }
    if (options.chain.pressure_position && options.chain.transducer.check_valve)
        plant.gauge = empty_gauge(static_cast<std::size_t>(*options.chain.pressure_position), engine);
    // The starting estimate; simulate() corrects it with the load that a short run shows.
    const double swept = displacement_m3(engine.geometry) * engine.layout.cylinders();
    constexpr double usual_load_ratio = 1.6;  // of the friction: rings, gas and spring losses included
    plant.circuit.constant_v_s =
        constant_for(plant.circuit, usual_load_ratio * engine.friction_kpa * 1000 * swept / (4 * pi),
                     engine.speed_rpm * 2 * pi / 60);
    return plant;
}

}  // namespace evenstroke::synth
