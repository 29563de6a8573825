#include "synth/plant.hpp"
#include "synth/radians.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::synth {

namespace {

constexpr double cycle_rad = 4 * pi;

/// Full effective valve area against the bore's: valves of about 0.4 bores, discharge coefficient about 0.6.
constexpr double intake_area_share = 0.11;
constexpr double exhaust_area_share = 0.085;
/// The exhaust port's gas is warmer than the air by this while cranking.
constexpr double exhaust_warmth_k = 25;
/// Coulomb friction is smoothed over this speed, so that it vanishes at rest; starting from rest it is
/// higher.
constexpr double rest_speed_rad_s = 0.3;
constexpr double stick_ratio = 0.6;
constexpr double stick_speed_rad_s = 2.0;
/// Of the friction at cranking speed this share grows with speed (oil film), the rest does not.
constexpr double viscous_share = 0.45;
/// Ring friction: share of gas force that presses the rings to the wall, times their friction coefficient.
constexpr double ring_friction_ratio = 0.012;
constexpr double ring_friction_pa = 12e3;  ///< their own tension, as a pressure on the piston
/// Slow wander of friction is renewed every so many steps, with this correlation time.
constexpr int wander_steps = 32;
constexpr double wander_s = 1.0;
/// Heat transfer is refreshed every so many steps: about a degree.
constexpr int heat_steps = 16;
/// Burning: begins this long before TDC and lasts a little more than a tenth of a turn.
constexpr double burn_from_rad = -6 * rad_per_deg;
constexpr double burn_span_rad = 45 * rad_per_deg;
constexpr double ignition_rad = 0.03;  ///< a charge that is not lit within this angle is not lit at all
/// Heat of a charge: about 2.7 MJ for a kilogram of stoichiometric mixture; an idling engine uses part.
constexpr double charge_heat_j_per_kg = 2.7e6;
constexpr double idle_rad_s = 1100 * 2 * pi / 60;
constexpr double idle_band_rad_s = 300 * 2 * pi / 60;
/// Rotor losses without load, as a share of the torque at 100 A: bearings, brushes, windage.
constexpr double rotor_drag_share = 0.12;
/// Free travel of the clutch rollers before they grip again, at the crank.
constexpr double take_up_rad = 0.02 * rad_per_deg;
/// Most the oil film lets a ring leak exceed its settled value in the first cycle, and how fast it builds.
constexpr double dry_ring_ratio = 0.25;
constexpr double oiling_cycles = 2.0;

double normal_torque(const Plant& plant) {
    const SynthEngine& engine = plant.engine;
    const double swept = displacement_m3(engine.geometry) * engine.layout.cylinders();
    return engine.friction_kpa * 1000 * swept / cycle_rad;
}

/// Of bearings, seals and drives, N·m.
double bearing_friction_nm(const Plant& plant) {
    const double speed = std::abs(plant.speed_rad_s);
    const double direction = plant.speed_rad_s < 0 ? -1 : 1;
    const double nominal = plant.engine.speed_rpm * 2 * pi / 60;
    const double wander = 1 + plant.engine.friction_wander_pct / 100 * plant.wander;
    const double dry = (1 - viscous_share) * (1 + stick_ratio * std::exp(-speed / stick_speed_rad_s));
    const double wet = viscous_share * std::pow(speed / nominal, 0.7);  // thinner films shear a little easier
    return direction * normal_torque(plant) * wander * (dry * std::tanh(speed / rest_speed_rad_s) + wet);
}

void renew_wander(Plant& plant, double dt_s) {
    if (plant.steps % wander_steps != 0) return;
    const double keep = std::exp(-wander_steps * dt_s / wander_s);
    plant.wander = keep * plant.wander + std::sqrt(1 - keep * keep) * plant.random.normal();
}

/// New cycle of a cylinder: how this charge is caught and how its leaks seat.
void begin_cycle(Plant& plant, Cylinder& cylinder, long cycle) {
    cylinder.cycle = cycle;
    // One degree of intake closing moves the trapped charge by about one per cent.
    cylinder.late_rad = plant.engine.cycle_spread_pct * rad_per_deg * plant.random.normal();
    cylinder.leak_ratio =
        std::exp(0.08 * plant.random.normal()) *
        (1 + dry_ring_ratio * std::exp(-static_cast<double>(std::max(cycle, 0L)) / oiling_cycles));
    cylinder.heat_left_j = 0;
}

/// Fuel burnt during this step, J.
double burn(const Plant& plant, Cylinder& cylinder, double phase, double turned_rad, bool fire) {
    const double after = phase > cycle_rad / 2 ? phase - cycle_rad : phase;  // -2 pi .. 2 pi
    if (!fire || after < burn_from_rad || after > burn_from_rad + burn_span_rad || turned_rad <= 0) return 0;
    if (cylinder.heat_left_j == 0) {
        if (after > burn_from_rad + ignition_rad) return 0;  // its moment had passed when firing was allowed
        const double need = std::clamp((idle_rad_s - plant.speed_rad_s) / idle_band_rad_s, 0.08, 0.8);
        cylinder.heat_left_j = need * charge_heat_j_per_kg * cylinder.gas.mass_kg;
    }
    // Cosine-shaped rate; its integral over the span is one.
    const double part = (after - burn_from_rad) / burn_span_rad;
    return cylinder.heat_left_j * (1 - std::cos(2 * pi * part)) / burn_span_rad * turned_rad;
}

/// Piston kinematics at the cylinder's phase: volume, its slope, and the piston's inertia at the crank.
struct Piston {
    double volume_m3, slope_m3_per_rad, travel_m, inertia_kg_m2, inertia_slope;
};

Piston piston_at(const Cylinder& cylinder, double phase, double mass_kg) {
    const Geometry& g = cylinder.geometry;
    const double crank = g.stroke_m / 2;
    const double sine = std::sin(phase), cosine = std::cos(phase);
    const double rod_height = std::sqrt(g.rod_m * g.rod_m - crank * crank * sine * sine);
    const double area = pi / 4 * g.bore_m * g.bore_m;
    Piston piston;
    piston.travel_m = crank * (1 - cosine) + g.rod_m - rod_height;
    piston.volume_m3 = area * (g.stroke_m / (g.compression_ratio - 1) + piston.travel_m);
    const double lever = crank * sine * (1 + crank * cosine / rod_height);  // dx/dangle
    piston.slope_m3_per_rad = area * lever;
    // d²x/dangle² to first order in crank/rod: enough for a torque that is small while cranking.
    const double curve = crank * (cosine + crank / g.rod_m * (cosine * cosine - sine * sine));
    piston.inertia_kg_m2 = mass_kg * lever * lever;
    piston.inertia_slope = 2 * mass_kg * lever * curve;
    return piston;
}

/// One cylinder's step at the new crank angle. Returns the mass drawn from the intake, kg.
double step_cylinder(Plant& plant, Cylinder& cylinder, const Reservoir& intake, double turned_rad, bool fire,
                     double dt_s) {
    const SynthEngine& engine = plant.engine;
    const double phase = phase_rad(cylinder, plant.angle_rad);
    const long cycle = static_cast<long>(std::floor((plant.angle_rad - cylinder.tdc_rad) / cycle_rad + 0.5));
    if (cycle != cylinder.cycle) begin_cycle(plant, cylinder, cycle);

    const double bore_area = pi / 4 * cylinder.geometry.bore_m * cylinder.geometry.bore_m;
    const double outside = engine.ambient_kpa * 1000;
    const double seat = cylinder.leak_ratio;
    const Path paths[3] = {
        {cylinder.ring_leak_m2 * seat, {outside, engine.wall_k}},
        {std::max(cylinder.intake_leak_m2 * seat,
                  intake_area_share * bore_area *
                      valve_opening(phase, cylinder.intake_opens_rad,
                                    cylinder.intake_closes_rad + cylinder.late_rad)),
         intake},
        {std::max(cylinder.exhaust_leak_m2 * seat,
                  cylinder.exhaust_lift_ratio * exhaust_area_share * bore_area *
                      valve_opening(phase, cylinder.exhaust_opens_rad, cylinder.exhaust_closes_rad)),
         {outside, engine.air_k + exhaust_warmth_k}}};
    double into_kg[3];
    Walls walls;
    walls.temperature_k = engine.wall_k;
    walls.bore_m = cylinder.geometry.bore_m;
    walls.gas_speed_m_s = 2.28 * cylinder.geometry.stroke_m * plant.speed_rad_s / pi;  // Woschni, see gas.hpp
    if (plant.steps % heat_steps == 0) refresh_heat(cylinder.gas, walls);

    const Piston piston = piston_at(cylinder, phase, engine.piston_kg);
    const double wall_area = 2 * bore_area + pi * cylinder.geometry.bore_m * piston.travel_m;
    const double heat = burn(plant, cylinder, phase, turned_rad, fire);
    advance(cylinder.gas, piston.volume_m3, paths, 3, into_kg, walls, wall_area, heat, dt_s);
    cylinder.slope_m3_per_rad = piston.slope_m3_per_rad;
    cylinder.inertia_kg_m2 = piston.inertia_kg_m2;
    cylinder.inertia_slope = piston.inertia_slope;
    cylinder.peak_pa = std::max(cylinder.peak_pa, cylinder.gas.pressure_pa);
    return into_kg[1];
}

/// Rings, N·m.
double ring_friction_nm(const Plant& plant, const Cylinder& cylinder, double direction) {
    const double gauge = cylinder.gas.pressure_pa - plant.engine.ambient_kpa * 1000;
    const double press = ring_friction_pa + ring_friction_ratio * std::abs(gauge);
    return press * cylinder.friction_ratio * std::abs(cylinder.slope_m3_per_rad) * direction;
}

/// A pump lobe for each cylinder, N·m: it is pushed over the half turn behind the cylinder's firing TDC.
double pump_nm(const Plant& plant, const Cylinder& cylinder) {
    if (plant.engine.pump_nm <= 0) return 0;
    const double phase = phase_rad(cylinder, plant.angle_rad);
    return plant.engine.pump_nm * std::max(0.0, std::sin(phase)) * (phase < pi ? 1 : 0);
}

/// Gas, valve-train and friction torque of one cylinder at the crank, N·m, driving positive.
double cylinder_torque(const Plant& plant, const Cylinder& cylinder, double direction) {
    const SynthEngine& engine = plant.engine;
    const double gauge = cylinder.gas.pressure_pa - engine.ambient_kpa * 1000;
    double torque = gauge * cylinder.slope_m3_per_rad - ring_friction_nm(plant, cylinder, direction);
    // Springs: two valves whose lift is a squared sine give torque as the sine of twice that angle.
    const double phase = phase_rad(cylinder, plant.angle_rad);
    const auto spring = [&](double opens, double closes) {
        if (phase <= opens || phase >= closes) return 0.0;
        return -engine.valvetrain_nm * std::sin(2 * pi * (phase - opens) / (closes - opens));
    };
    torque += cylinder.exhaust_lift_ratio * spring(cylinder.exhaust_opens_rad, cylinder.exhaust_closes_rad) +
              spring(cylinder.intake_opens_rad, cylinder.intake_closes_rad);
    return torque - pump_nm(plant, cylinder);
}

void flow_bridges(Plant& plant, double dt_s) {
    for (const Bridge& bridge : plant.bridges) {
        Gas& one = plant.cylinders[bridge.one].gas;
        Gas& other = plant.cylinders[bridge.other].gas;
        Gas& from = one.pressure_pa > other.pressure_pa ? one : other;
        Gas& into = one.pressure_pa > other.pressure_pa ? other : one;
        const double k = heat_ratio(from.temperature_k);
        const double mass =
            dt_s * orifice_flow(bridge.area_m2, from.pressure_pa, from.temperature_k, into.pressure_pa, k);
        into.temperature_k += mass * (k * from.temperature_k - into.temperature_k) / (into.mass_kg + mass);
        into.mass_kg += mass;
        drain(from, mass, k);
    }
}

Reservoir intake_of(const Plant& plant) {
    const SynthEngine& engine = plant.engine;
    if (engine.throttle_mm2 <= 0) return {engine.ambient_kpa * 1000, engine.air_k};
    const double volume = engine.plenum_l / 1000;
    return {plant.plenum_kg * gas_constant * engine.air_k / volume, engine.air_k};
}

/// The plenum is fed through the throttle and keeps the air's temperature (thin, large, slow).
void fill_plenum(Plant& plant, double drawn_kg, double dt_s) {
    const SynthEngine& engine = plant.engine;
    if (engine.throttle_mm2 <= 0) return;
    plant.plenum_kg -= drawn_kg;
    const double outside = engine.ambient_kpa * 1000;
    const double inside = intake_of(plant).pressure_pa;
    const double area = engine.throttle_mm2 * 1e-6;
    const double full = outside * engine.plenum_l / 1000 / (gas_constant * engine.air_k);
    const double flow = inside < outside ? orifice_flow(area, outside, engine.air_k, inside, 1.4)
                                         : -orifice_flow(area, inside, engine.air_k, outside, 1.4);
    // Never past equality within one step.
    const double change = flow * dt_s;
    plant.plenum_kg += flow > 0 ? std::min(change, std::max(full - plant.plenum_kg, 0.0))
                                : std::max(change, std::min(full - plant.plenum_kg, 0.0));
}

/// Turns the second mass of a dual-mass flywheel and returns what its springs hold the crank back with, N·m.
double turn_second_mass(Plant& plant, double dt_s) {
    const SynthEngine& engine = plant.engine;
    if (engine.second_mass_kg_m2 <= 0) return 0;
    const double slip = plant.speed_rad_s - plant.second_rad_s;
    plant.wind_rad += slip * dt_s;
    const double pull_nm = engine.spring_nm_per_rad * plant.wind_rad + engine.spring_damping_nm_s * slip +
                           engine.spring_friction_nm * std::tanh(slip / rest_speed_rad_s);
    plant.second_rad_s += pull_nm / engine.second_mass_kg_m2 * dt_s;
    return pull_nm;
}

/// Rotor, clutch, crank and flywheel under their torques.
void turn(Plant& plant, const Orders& orders, double dt_s) {
    const SynthStarter& starter = plant.starter;
    double gas_nm = 0, inertia = plant.engine.inertia_kg_m2, inertia_slope_nm = 0;
    const double direction = std::tanh(plant.speed_rad_s / rest_speed_rad_s);
    for (const Cylinder& cylinder : plant.cylinders) {
        gas_nm += cylinder_torque(plant, cylinder, direction);
        inertia += cylinder.inertia_kg_m2;
        inertia_slope_nm += cylinder.inertia_slope / 2 * plant.speed_rad_s * plant.speed_rad_s;
    }
    if (orders.contact)
        step_closed(plant.circuit, plant.electric, plant.rotor_rad_s, dt_s);
    else
        step_open(plant.circuit, plant.electric, dt_s);

    const double slip = plant.rotor_rad_s - plant.speed_rad_s;
    plant.twist_rad = std::max(plant.twist_rad + slip * dt_s, -take_up_rad);
    double clutch_nm = 0;
    if (plant.twist_rad > 0)
        clutch_nm =
            std::max(0.0, starter.clutch_nm_per_rad * plant.twist_rad + starter.clutch_damping_nm_s * slip);
    const double rotor_inertia = starter.rotor_inertia_kg_m2 * starter.ratio * starter.ratio;
    const double drag_nm =
        rotor_drag_share * 100 * plant.circuit.constant_v_s * std::tanh(plant.rotor_rad_s / rest_speed_rad_s);
    const double push_nm = torque_nm(plant.circuit, plant.electric.current_a);
    plant.rotor_rad_s += (push_nm - drag_nm - clutch_nm) / rotor_inertia * dt_s;
    const double springs_nm = turn_second_mass(plant, dt_s);
    plant.speed_rad_s +=
        (clutch_nm + gas_nm - bearing_friction_nm(plant) - inertia_slope_nm - springs_nm) / inertia * dt_s;
    plant.rotor_rad += plant.rotor_rad_s * dt_s;
    plant.angle_rad += plant.speed_rad_s * dt_s;
}

}  // namespace

double friction_nm(const Plant& plant) {
    const double direction = std::tanh(plant.speed_rad_s / rest_speed_rad_s);
    double sum = bearing_friction_nm(plant);
    for (const Cylinder& cylinder : plant.cylinders)
        sum += ring_friction_nm(plant, cylinder, direction) + pump_nm(plant, cylinder);
    return sum;
}

double phase_rad(const Cylinder& cylinder, double crank_rad) {
    const double turned = crank_rad - cylinder.tdc_rad;
    return turned - cycle_rad * std::floor(turned / cycle_rad);
}

double valve_opening(double phase_rad, double opens_rad, double closes_rad) {
    if (phase_rad <= opens_rad || phase_rad >= closes_rad) return 0;
    const double sine = std::sin(pi * (phase_rad - opens_rad) / (closes_rad - opens_rad));
    // The curtain around the lifted head soon exceeds the seat, which then limits.
    return std::min(1.0, 1.5 * sine * sine);
}

void step(Plant& plant, const Orders& orders, double dt_s) {
    const double before_rad = plant.angle_rad;
    renew_wander(plant, dt_s);
    turn(plant, orders, dt_s);
    const double turned = plant.angle_rad - before_rad;
    const Reservoir intake = intake_of(plant);
    double drawn_kg = 0;
    flow_bridges(plant, dt_s);
    if (plant.gauge) breathe(*plant.gauge, plant.cylinders[plant.gauge->cylinder].gas, dt_s);
    for (Cylinder& cylinder : plant.cylinders)
        drawn_kg += step_cylinder(plant, cylinder, intake, turned, orders.fire, dt_s);
    fill_plenum(plant, drawn_kg, dt_s);
    ++plant.steps;
}

}  // namespace evenstroke::synth
