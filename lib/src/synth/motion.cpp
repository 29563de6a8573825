#include "synth/motion.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "cranking/speed_span.hpp"
#include "synth/watch.hpp"

namespace evenstroke::synth {

namespace {

/// From key to main contact the solenoid pulls in: its coils carry a little current, then hold with less.
constexpr double solenoid_s = 0.03;
constexpr double pull_in_a = 35;
constexpr double hold_in_a = 9;
/// After the first firing the driver holds the key this long.
constexpr double key_reaction_s = 0.45;
constexpr double settled_ratio = 0.05;  ///< see SynthTruth::settled_s
/// The short run that measures the load: coarser, and long enough to settle.
constexpr double aim_step_s = 100e-6;
constexpr double aim_run_s = 1.6;
constexpr double aim_from_s = 0.8;
constexpr int aim_rounds = 4;
constexpr double aim_ratio = 0.02;    ///< near enough
constexpr double stuck_ratio = 0.35;  ///< slower than this share of the speed aimed at: it does not turn
constexpr double lower_gear_ratio = 1.4;

struct Trial {
    double load_nm = 0;  ///< mean torque of the starter at the crank
    double speed_rad_s = 0;
};

/// A short run with the plant's torque constant, without recording anything.
Trial try_out(const Plant& plant, const SynthOptions& options, std::uint64_t seed) {
    Plant trial = build_plant(options, seed);
    trial.circuit.constant_v_s = plant.circuit.constant_v_s;
    Trial result;
    double from_rad = 0, from_s = 0, t = 0;
    long steps = 0;
    for (; t < aim_run_s; t += aim_step_s) {
        step(trial, {.contact = true, .fire = false}, aim_step_s);
        if (t < aim_from_s) {
            from_rad = trial.angle_rad;
            from_s = t;
            continue;
        }
        result.load_nm += torque_nm(trial.circuit, trial.electric.current_a);
        ++steps;
    }
    result.load_nm /= static_cast<double>(steps);
    result.speed_rad_s = (trial.angle_rad - from_rad) / (t - from_s);
    return result;
}

/// Sets the torque constant so that the mean speed comes near the one aimed at. Only the ratio of two steady
/// balances is used: current and speed swing too much for a balance of means.
void aim(Plant& plant, const SynthOptions& options, std::uint64_t seed) {
    const double wanted = options.engine.speed_rpm * 2 * pi / 60;
    for (int round = 0; round < aim_rounds; ++round) {
        const Trial trial = try_out(plant, options, seed);
        if (trial.speed_rad_s < stuck_ratio * wanted) {  // stopped by a compression: a lower gear
            plant.circuit.constant_v_s *= lower_gear_ratio;
            continue;
        }
        if (std::abs(trial.speed_rad_s / wanted - 1) < aim_ratio) return;
        plant.circuit.constant_v_s *= constant_for(plant.circuit, trial.load_nm, wanted) /
                                      constant_for(plant.circuit, trial.load_nm, trial.speed_rad_s);
    }
}

double mean_speed_rpm(const std::vector<double>& marks, std::size_t from, std::size_t to) {
    return 120 * static_cast<double>(to - from) / (marks[to] - marks[from]);
}

/// Marks of position 0 inside [from, to].
std::vector<double> cycle_marks(const SynthTruth& truth, double from_s) {
    std::vector<double> marks;
    for (const SynthEvent& event : truth.events)
        if (event.position == 0 && event.tdc_s >= from_s) marks.push_back(event.tdc_s);
    return marks;
}

/// From the crank's own angle.
double speed_rpm(const SynthTruth& truth, const Motion& motion) {
    const auto at = [&](double time_s) {
        return motion
            .angle_rad[std::min(static_cast<std::size_t>(time_s / step_s), motion.angle_rad.size() - 1)];
    };
    return (at(truth.end_s) - at(truth.steady_s)) / (2 * pi) * 60 / (truth.end_s - truth.steady_s);
}

/// Finds the settled cycles and the steady part.
void settle(SynthTruth& truth) {
    const std::vector<double> marks = cycle_marks(truth, truth.start_s);
    if (marks.size() < 3)
        throw Error(ErrorCode::unusable, "synth", "the engine turns less than two whole cycles",
                    "give a longer --seconds, a higher --speed, or another --starter or --seed");
    const std::size_t last = marks.size() - 1;
    const double settled_rpm = mean_speed_rpm(marks, last / 2, last);
    std::size_t first = last / 2;
    for (std::size_t i = 0; i < last; ++i)
        if (std::abs(mean_speed_rpm(marks, i, i + 1) / settled_rpm - 1) < settled_ratio) {
            first = std::min(first, i);
            break;
        }
    truth.settled_s = marks[first];
    truth.cycles = static_cast<int>(last - first);
    truth.steady_s = cranking::speed_from_s(truth.start_s, truth.settled_s, truth.end_s, 120 / settled_rpm);
}

TruthCylinder built(const Cylinder& cylinder) {
    constexpr double mm2_per_m2 = 1e6;
    return {.compression_ratio = cylinder.geometry.compression_ratio,
            .intake_opens_deg = signed_deg(cylinder.intake_opens_rad),
            .intake_closes_deg = signed_deg(cylinder.intake_closes_rad),
            .exhaust_opens_deg = signed_deg(cylinder.exhaust_opens_rad),
            .exhaust_closes_deg = signed_deg(cylinder.exhaust_closes_rad),
            .rings_leak_mm2 = cylinder.ring_leak_m2 * mm2_per_m2,
            .intake_leak_mm2 = cylinder.intake_leak_m2 * mm2_per_m2,
            .exhaust_leak_mm2 = cylinder.exhaust_leak_m2 * mm2_per_m2,
            .loss_angle_deg = {}};
}

/// From where on compressions count: not the cycle that began at rest, since a cylinder that stood in the
/// middle of its stroke holds no whole charge.
double whole_charges_from_s(const SynthTruth& truth) {
    return std::max(truth.steady_s, cycle_marks(truth, truth.start_s)[1]);
}

void set_loss_angles(SynthTruth& truth) {
    const double from_s = whole_charges_from_s(truth);
    for (std::size_t i = 0; i < truth.cylinders.size(); ++i) {
        double sum = 0;
        int count = 0;
        for (const SynthEvent& event : truth.events) {
            if (event.position != static_cast<int>(i) || event.tdc_s < from_s) continue;
            if (!event.peak_angle_deg) continue;
            sum -= *event.peak_angle_deg;
            ++count;
        }
        if (count > 0) truth.cylinders[i].loss_angle_deg = sum / count;
    }
}

/// Drops what came after cranking: compressions while the engine runs down or by itself, and their puffs.
void keep_cranked(SynthTruth& truth, std::optional<int> pressure_position) {
    std::erase_if(truth.events, [&](const SynthEvent& e) { return e.tdc_s > truth.end_s; });
    const auto own = std::count_if(truth.events.begin(), truth.events.end(), [&](const SynthEvent& e) {
        return pressure_position && e.position == *pressure_position;
    });
    truth.puffs_kpa.resize(std::min(truth.puffs_kpa.size(), static_cast<std::size_t>(own)));
}

void sum_up(SynthTruth& truth, const Motion& motion, int cylinders) {
    std::sort(truth.events.begin(), truth.events.end(),
              [](const SynthEvent& a, const SynthEvent& b) { return a.tdc_s < b.tdc_s; });
    settle(truth);
    truth.speed_rpm = speed_rpm(truth, motion);
    set_loss_angles(truth);
    const double from_s = whole_charges_from_s(truth);
    std::vector<double> sum(static_cast<std::size_t>(cylinders), 0.0), count(sum);
    for (const SynthEvent& event : truth.events) {
        if (event.tdc_s < from_s) continue;
        sum[static_cast<std::size_t>(event.position)] += event.peak_kpa;
        count[static_cast<std::size_t>(event.position)] += 1;
    }
    for (std::size_t i = 0; i < sum.size(); ++i) truth.peak_kpa.push_back(sum[i] / count[i]);
    const double highest = *std::max_element(truth.peak_kpa.begin(), truth.peak_kpa.end());
    for (const double peak : truth.peak_kpa) truth.contribution_pct.push_back(100 * (peak / highest));

    const std::vector<double> marks = cycle_marks(truth, truth.settled_s);
    const auto at = [](double time_s) { return static_cast<std::size_t>(time_s / step_s); };
    const auto mean = [&](const std::vector<float>& values) {
        const auto begin = static_cast<std::ptrdiff_t>(at(marks.front()));
        const auto end = static_cast<std::ptrdiff_t>(at(marks.back()));
        return std::accumulate(values.begin() + begin, values.begin() + end, 0.0) /
               static_cast<double>(end - begin);
    };
    truth.mean_a = mean(motion.current_a);
    truth.torque_nm = mean(motion.torque_nm);
    truth.friction_nm = mean(motion.friction_nm);
    truth.inrush_a = static_cast<double>(*std::max_element(motion.current_a.begin(), motion.current_a.end()));
}

void record(Motion& motion, const Plant& plant, double coil_a, std::optional<int> pressure_position) {
    const double current = plant.electric.current_a + coil_a;
    motion.current_a.push_back(static_cast<float>(current));
    motion.battery_v.push_back(
        static_cast<float>(battery_v(plant.circuit, plant.electric) - plant.circuit.battery_ohm * coil_a));
    motion.angle_rad.push_back(plant.angle_rad);
    motion.rotor_rad.push_back(plant.rotor_rad);
    motion.torque_nm.push_back(static_cast<float>(torque_nm(plant.circuit, plant.electric.current_a) /
                                                  plant.circuit.efficiency_ratio));
    motion.friction_nm.push_back(static_cast<float>(friction_nm(plant)));
    if (!pressure_position) return;
    const Gas& gas = plant.cylinders[static_cast<std::size_t>(*pressure_position)].gas;
    motion.pressure_pa.push_back(
        static_cast<float>(plant.gauge ? plant.gauge->pressure_pa() : gas.pressure_pa));
}

}  // namespace

Run simulate(const SynthOptions& options, std::uint64_t seed) {
    Plant plant = build_plant(options, seed);
    aim(plant, options, seed);
    Run run;
    SynthTruth& truth = run.truth;
    const SynthRun& plan = options.run;
    truth.start_s = plan.engage_s + solenoid_s;
    truth.ended_by = plan.ends_by;
    const bool starts = plan.ends_by == CrankingEnd::engine_start;
    const bool open_ended = plan.ends_by == CrankingEnd::recording_end;
    const auto total = static_cast<long>(plan.duration_s / step_s) + 2;
    const double key_off_s = open_ended ? plan.duration_s + 1 : plan.stop_s + (starts ? key_reaction_s : 0);

    Watch watch(plant);
    for (long i = 0; i < total; ++i) {
        const double t = static_cast<double>(i) * step_s;
        const bool key = t >= plan.engage_s && t < key_off_s;
        const double coil_a = !key ? 0 : t < truth.start_s ? pull_in_a : hold_in_a;
        record(run.motion, plant, coil_a, options.chain.pressure_position);
        if (t < truth.start_s) continue;
        const double before = plant.angle_rad;
        step(plant, {.contact = key, .fire = starts && t >= plan.stop_s}, step_s);
        watch.after_step(plant, before, t + step_s, step_s);
    }
    watch.finish_all(plant);
    truth.events = watch.events();
    for (const Cylinder& cylinder : plant.cylinders) truth.cylinders.push_back(built(cylinder));
    if (plant.gauge) truth.puffs_kpa = watch.puffs_kpa();
    truth.end_s = open_ended ? plan.duration_s : plan.stop_s;
    keep_cranked(truth, options.chain.pressure_position);
    sum_up(truth, run.motion, options.engine.layout.cylinders());
    return run;
}

}  // namespace evenstroke::synth
