// Random plausible engines for calibration: dimensions, tolerances, starters, chains and faults drawn from
// the ranges that general knowledge gives (docs/synth.md), not from any recording.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "evenstroke/synth.hpp"
#include "synth/random.hpp"

namespace evenstroke {

namespace {

using synth::Random;

struct Family {
    const char* name;
    std::vector<double> intervals_deg;
    bool diesel = false;
    bool starts = false;
    bool dual_mass = false;
};

std::vector<double> even(int cylinders) {
    return std::vector<double>(static_cast<std::size_t>(cylinders), cycle_deg / cylinders);
}

std::vector<double> repeated(const std::vector<double>& pattern, int times) {
    std::vector<double> all;
    for (int i = 0; i < times; ++i) all.insert(all.end(), pattern.begin(), pattern.end());
    return all;
}

const std::vector<Family>& families() {
    static const std::vector<Family> all = {
        {"one", even(1)},
        {"two", even(2)},
        {"two-odd", {270, 450}},
        {"three", even(3)},
        {"four", even(4)},
        {"four-odd", repeated({180, 270, 180, 90}, 1)},
        {"five", even(5)},
        {"six", even(6)},
        {"six-odd", repeated({150, 90}, 3)},
        {"eight", even(8)},
        {"ten-odd", repeated({90, 54}, 5)},
        {"twelve", even(12)},
        {"diesel-three", even(3), true},
        {"diesel-four", even(4), true},
        {"diesel-six", even(6), true},
        {"starts", {}, false, true},
        {"dual-mass", {}, false, false, true},
    };
    return all;
}

double log_between(Random& random, double low, double high) {
    return low * std::exp(std::log(high / low) * random.unit());
}

void draw_geometry(SynthEngine& engine, bool diesel, Random& random) {
    const int cylinders = engine.layout.cylinders();
    const double swept_l =
        diesel ? random.between(0.4, 1.0) : random.between(0.28, cylinders > 6 ? 0.75 : 0.62);
    const double bore_to_stroke = diesel ? random.between(0.82, 1.0) : random.between(0.88, 1.18);
    Geometry& g = engine.geometry;
    g.stroke_m = std::cbrt(swept_l * 1e-3 / (pi / 4 * bore_to_stroke * bore_to_stroke));
    g.bore_m = bore_to_stroke * g.stroke_m;
    g.rod_m = g.stroke_m * random.between(1.5, 1.9);
    g.compression_ratio = diesel ? random.between(15, 18.5) : random.between(8.2, 11.8);
}

void draw_engine_details(SynthEngine& engine, bool diesel, Random& random) {
    const double swept_l = displacement_m3(engine.geometry) * 1000;
    const double total_l = swept_l * engine.layout.cylinders();
    engine.speed_rpm = diesel ? random.between(140, 240) : random.between(150, 290);
    engine.friction_kpa = diesel ? random.between(110, 210) : random.between(80, 180);
    engine.inertia_kg_m2 = (diesel ? 0.16 : 0.075) * total_l * log_between(random, 0.7, 1.5);
    // Few cylinders need a heavier flywheel to run at all.
    if (engine.layout.cylinders() < 3) engine.inertia_kg_m2 *= 4.0 / (1 + engine.layout.cylinders());
    engine.piston_kg = swept_l * (diesel ? random.between(1.4, 2.2) : random.between(0.8, 1.4));
    engine.valvetrain_nm = swept_l * random.between(0.5, 4);
    engine.intake_opens_deg = random.between(340, 360);
    engine.intake_closes_deg = diesel ? random.between(570, 592) : random.between(585, 618);
    engine.exhaust_opens_deg = random.between(115, 145);
    engine.exhaust_closes_deg = random.between(364, 385);
    engine.leak_mm2 = swept_l * log_between(random, 0.12, 0.7);
    engine.wall_k = random.between(280, 365);
    engine.air_k = random.between(265, 308);
    engine.ambient_kpa = random.between(84, 103);
    // A closed throttle leaves an idle opening: 15 to 60 mm² a litre; open, or a diesel: nothing in the way.
    if (!diesel && random.chance(0.5)) engine.throttle_mm2 = total_l * log_between(random, 15, 300);
    engine.plenum_l = total_l * random.between(0.8, 2.0);
    engine.spread_pct = random.between(0.3, 1.2);
    engine.cycle_spread_pct = random.between(0.2, 1.3);
    engine.friction_wander_pct = random.between(0.5, 5);
    if (diesel && random.chance(0.5)) engine.pump_nm = total_l * random.between(0.5, 2.5);
}

/// Part of the flywheel goes behind springs, whose resonance lies below the firing frequency at idle.
void draw_dual_mass(SynthEngine& engine, Random& random) {
    engine.second_mass_kg_m2 = engine.inertia_kg_m2 * random.between(0.2, 0.45);
    engine.inertia_kg_m2 -= engine.second_mass_kg_m2;
    const double spring_rad_s = 2 * pi * log_between(random, 7, 20);
    engine.spring_nm_per_rad = engine.second_mass_kg_m2 * spring_rad_s * spring_rad_s;
    engine.spring_damping_nm_s = 2 * random.between(0.02, 0.2) * engine.second_mass_kg_m2 * spring_rad_s;
    // Of what the mass takes to follow 3 rad/s at 7 Hz.
    engine.spring_friction_nm = random.between(0.05, 0.4) * engine.second_mass_kg_m2 * 3 * 2 * pi * 7;
}

void draw_fault(SynthEngine& engine, Random& random) {
    static constexpr std::array kinds = {FaultKind::rings,  FaultKind::intake_valve, FaultKind::exhaust_valve,
                                         FaultKind::gasket, FaultKind::ratio,        FaultKind::charge};
    const int cylinders = engine.layout.cylinders();
    SynthFault fault;
    fault.position = random.below(cylinders);
    fault.kind = kinds[static_cast<std::size_t>(random.below(static_cast<int>(kinds.size())))];
    if (fault.kind == FaultKind::gasket && cylinders < 2) fault.kind = FaultKind::rings;
    if (fault.kind == FaultKind::gasket)
        fault.neighbour = (fault.position + 1 + random.below(cylinders - 1)) % cylinders;
    const double swept_l = displacement_m3(engine.geometry) * 1000;
    switch (fault.kind) {
        case FaultKind::ratio:
            fault.amount = log_between(random, 5, 45);
            break;
        case FaultKind::charge:
            fault.amount = log_between(random, 4, 50);
            break;
        default:
            fault.amount = swept_l * log_between(random, 0.6, 40);
    }
    engine.faults.push_back(fault);
}

/// Two in three engines have a fault; some of them two.
void draw_faults(SynthEngine& engine, Random& random) {
    if (!random.chance(2.0 / 3)) return;
    draw_fault(engine, random);
    if (engine.layout.cylinders() > 2 && random.chance(0.2)) draw_fault(engine, random);
}

/// A starter and battery that suit the engine: stall current some times the mean, as they are chosen.
void draw_starter(SynthOptions& options, bool diesel, Random& random) {
    const SynthEngine& engine = options.engine;
    SynthStarter& starter = options.starter;
    SynthBattery& battery = options.battery;
    const double swept = displacement_m3(engine.geometry) * engine.layout.cylinders();
    // Beside friction: rings, leaks, heat lost and gas exchange, together about a hundred kPa of mean
    // pressure.
    constexpr double drag_ratio = 1.2;
    constexpr double losses_kpa = 110;
    const double load_nm = (drag_ratio * engine.friction_kpa + losses_kpa) * 1000 * swept / (4 * pi);
    starter.efficiency_ratio = random.between(0.78, 0.9);
    const double power_w = load_nm * engine.speed_rpm * 2 * pi / 60 / starter.efficiency_ratio;
    constexpr double heavy_w = 2800;  // above this vehicles have 24 V
    const double systems = power_w > heavy_w ? 2 : 1;
    battery.open_v = systems * random.between(12.2, 12.9);
    starter.brush_v = random.between(0.5, 1.3);
    constexpr double loaded_share = 0.8;  // of the open voltage while cranking
    const double mean_a = power_w / (loaded_share * battery.open_v);
    // Torque grows with current: at stall it must overcome friction and one compression with something left.
    // A compression's highest torque lies near 25 degrees before TDC, at half the peak: about 0.13 swept
    // volumes times the peak.
    const double peak_pa = engine.ambient_kpa * 1000 * std::pow(engine.geometry.compression_ratio, 1.25);
    const double stop_nm = load_nm + 0.13 * peak_pa * displacement_m3(engine.geometry);
    // One draw a statement: which of two in one expression comes first is the compiler's choice.
    const double least_ratio = random.between(1.4, 2.0) * stop_nm / load_nm;
    const double stall_ratio = std::max(random.between(3.2, 5.5), least_ratio);
    const double stall_a = std::max(350.0, mean_a * stall_ratio);
    const double loop_mohm = 1000 * (battery.open_v - starter.brush_v) / stall_a;
    battery.resistance_mohm = loop_mohm * random.between(0.2, 0.38);
    battery.cable_mohm = loop_mohm * random.between(0.08, 0.25);
    starter.resistance_mohm = loop_mohm - battery.resistance_mohm - battery.cable_mohm;
    battery.sag_mohm = loop_mohm * random.between(0.04, 0.2);
    battery.sag_s = random.between(0.3, 1.5);

    starter.kind = random.chance(diesel ? 0.6 : 0.35) ? StarterKind::series : StarterKind::permanent_magnet;
    starter.saturation_a = stall_a * random.between(0.12, 0.4);
    const double lag_s =
        starter.kind == StarterKind::series ? random.between(2e-3, 7e-3) : random.between(0.8e-3, 3e-3);
    starter.inductance_uh = 1000 * loop_mohm * lag_s;
    const bool geared = starter.kind == StarterKind::permanent_magnet || random.chance(0.4);
    starter.ratio = geared ? random.between(35, 65) : random.between(10, 17);
    const double rotor_at_crank = engine.inertia_kg_m2 * log_between(random, 0.25, geared ? 2.5 : 1.2);
    starter.rotor_inertia_kg_m2 = rotor_at_crank / (starter.ratio * starter.ratio);
    const double joint = rotor_at_crank * engine.inertia_kg_m2 / (rotor_at_crank + engine.inertia_kg_m2);
    const double ring_rad_s = 2 * pi * log_between(random, 25, 120);
    starter.clutch_nm_per_rad = joint * ring_rad_s * ring_rad_s;
    starter.clutch_damping_nm_s = 2 * random.between(0.08, 0.4) * joint * ring_rad_s;
    starter.bars = 19 + random.below(15);
    starter.ripple_pct = random.between(0.4, 3.5);
}

void draw_run(SynthOptions& options, bool starts, Random& random) {
    SynthRun& run = options.run;
    run.duration_s = random.between(4.5, 8);
    run.engage_s = random.between(0.15, 0.7);
    run.start_angle_deg = random.between(0, cycle_deg);
    const double end = random.unit();
    run.ends_by = starts || end < 0.12 ? CrankingEnd::engine_start
                  : end < 0.3          ? CrankingEnd::recording_end
                                       : CrankingEnd::release;
    run.stop_s = run.duration_s - (run.ends_by == CrankingEnd::engine_start ? random.between(1, 1.6)
                                                                            : random.between(0.2, 0.6));
}

void draw_chain(SynthOptions& options, Random& random) {
    static constexpr std::array rates = {5000.0, 10'000.0, 10'000.0, 20'000.0, 20'000.0, 50'000.0};
    static constexpr std::array depths = {8, 10, 12, 12, 14, 16, 16};
    SynthChain& chain = options.chain;
    chain.rate_hz = rates[static_cast<std::size_t>(random.below(static_cast<int>(rates.size())))];
    chain.adc_bits = depths[static_cast<std::size_t>(random.below(static_cast<int>(depths.size())))];
    chain.gain_error_pct = 2 * random.normal();
    const double offset_sd_a = random.chance(0.2) ? 12 : 2;
    chain.offset_a = offset_sd_a * random.normal();
    chain.drift_a_per_s = random.chance(0.3) ? random.normal() : 0;
    chain.noise_a = log_between(random, 0.3, 4);
    chain.bandwidth_hz = log_between(random, 1500, 20'000);
    if (random.chance(0.3)) chain.hum_a = random.between(0.3, 3);
    if (random.chance(0.3)) chain.hum_hz = 60;
    if (random.chance(0.12)) chain.spikes_per_s = random.between(0.3, 3);
    chain.reversed = random.chance(0.1);
    constexpr double least_range =
        1.3;  // of the stall current: most people choose a range that does not clip
    const double loop_ohm =
        (options.battery.resistance_mohm + options.battery.cable_mohm + options.starter.resistance_mohm) /
        1000;
    const double stall_a = options.battery.open_v / loop_ohm;
    for (const double range : {600.0, 1000.0, 2000.0, 4000.0}) {
        chain.limit_a = range;
        if (range > least_range * stall_a) break;
    }
    if (random.chance(0.08)) chain.limit_a = 0.6 * stall_a;        // the inrush clips
    constexpr double twelve_volts_most = 18, range_for_24_v = 40;  // the next range of a usual scope
    if (options.battery.open_v > twelve_volts_most) chain.battery_range_v = range_for_24_v;
    chain.battery_noise_v = log_between(random, 0.002, 0.02);
    chain.sync_lead_deg = random.chance(0.4) ? 0 : random.between(0, 40);
    chain.sync_width_deg = random.between(8, 60);
}

}  // namespace

std::vector<std::string> synth_families() {
    std::vector<std::string> names;
    for (const Family& family : families()) names.emplace_back(family.name);
    return names;
}

SynthOptions draw_engine(std::uint64_t seed, std::string_view family) {
    const auto& all = families();
    const auto found =
        std::find_if(all.begin(), all.end(), [family](const Family& f) { return family == f.name; });
    if (found == all.end())
        throw Error(ErrorCode::bad_option, "--family", fmt::format("no family is called '{}'", family),
                    fmt::format("choose one of: {}", fmt::join(synth_families(), ", ")));
    // The family is part of the seed (FNV-1a), so that equal seeds do not draw alike in every family.
    std::uint64_t mixed = 0xcbf29ce484222325 ^ seed;
    for (const char c : family) mixed = (mixed ^ static_cast<unsigned char>(c)) * 0x100000001b3;
    Random random(mixed);
    SynthOptions options;
    constexpr std::array any_cylinders = {3, 4, 4, 6, 8};
    options.engine.layout.intervals_deg =
        !found->intervals_deg.empty() ? found->intervals_deg
                                      : even(any_cylinders[static_cast<std::size_t>(random.below(5))]);
    draw_geometry(options.engine, found->diesel, random);
    draw_engine_details(options.engine, found->diesel, random);
    draw_faults(options.engine, random);
    draw_starter(options, found->diesel, random);
    draw_run(options, found->starts, random);
    draw_chain(options, random);
    if (found->dual_mass) draw_dual_mass(options.engine, random);
    return options;
}

}  // namespace evenstroke
