#include "synth/motion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenstroke::synth {

namespace {

/// From key to main contact the solenoid pulls in: its coils carry a little current, then hold with less.
constexpr double solenoid_s = 0.03;
constexpr double pull_in_a = 35;
constexpr double hold_in_a = 9;
/// After the first firing the driver holds the key this long.
constexpr double key_reaction_s = 0.45;
/// A compression's peak is complete this far after firing TDC.
constexpr double peak_done_rad = 70 * pi / 180;
constexpr double settled_ratio = 0.05;  ///< see SynthTruth::settled_s
/// The short run that measures the load: coarser, and long enough to settle.
constexpr double aim_step_s = 100e-6;
constexpr double aim_run_s = 1.6;
constexpr double aim_from_s = 0.8;
constexpr int aim_rounds = 4;
constexpr double aim_ratio = 0.02;    ///< near enough
constexpr double stuck_ratio = 0.35;  ///< slower than this share of the speed aimed at: it does not turn
constexpr double lower_gear_ratio = 1.4;

/// Follows the compressions of all cylinders while the plant runs.
class Watch {
  public:
    explicit Watch(const Plant& plant) : pending_(plant.cylinders.size(), false) {}

    void after_step(Plant& plant, double before_rad, double time_s, double dt_s) {
        for (std::size_t i = 0; i < plant.cylinders.size(); ++i) {
            Cylinder& cylinder = plant.cylinders[i];
            const double was = phase_rad(cylinder, before_rad), now = phase_rad(cylinder, plant.angle_rad);
            if (was > 3 * pi && now < pi) {  // firing TDC lies within this step
                const double turned = plant.angle_rad - before_rad;
                events_.push_back({static_cast<int>(i), time_s - dt_s * now / turned, 0});
                pending_[i] = true;
            }
            if (pending_[i] && now >= peak_done_rad && now < 2 * pi) finish(plant, i);
            if (was < 3 * pi && now >= 3 * pi) cylinder.peak_pa = 0;  // compression begins
        }
    }
    [[nodiscard]] const std::vector<SynthEvent>& events() const { return events_; }
    /// Closes what is still open where the run ends.
    void finish_all(const Plant& plant) {
        for (std::size_t i = 0; i < pending_.size(); ++i)
            if (pending_[i]) finish(plant, i);
    }

  private:
    void finish(const Plant& plant, std::size_t i) {
        for (auto event = events_.rbegin(); event != events_.rend(); ++event) {
            if (event->position != static_cast<int>(i)) continue;
            event->peak_kpa = plant.cylinders[i].peak_pa / 1000 - plant.engine.ambient_kpa;
            break;
        }
        pending_[i] = false;
    }
    std::vector<SynthEvent> events_;
    std::vector<bool> pending_;
};

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

void settle(SynthTruth& truth) {
    const std::vector<double> marks = cycle_marks(truth, truth.start_s);
    if (marks.size() < 3)
        throw Error(ErrorCode::unusable, "synth", "the engine turns less than two whole cycles",
                    "give a longer --seconds, a lower friction or a stronger starter");
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
    truth.speed_rpm = mean_speed_rpm(marks, first, last);
}

void sum_up(SynthTruth& truth, const Motion& motion, int cylinders) {
    std::erase_if(truth.events, [&](const SynthEvent& e) { return e.tdc_s > truth.end_s; });
    std::sort(truth.events.begin(), truth.events.end(),
              [](const SynthEvent& a, const SynthEvent& b) { return a.tdc_s < b.tdc_s; });
    settle(truth);
    std::vector<double> sum(static_cast<std::size_t>(cylinders), 0.0), count(sum);
    for (const SynthEvent& event : truth.events) {
        if (event.tdc_s < truth.settled_s) continue;
        sum[static_cast<std::size_t>(event.position)] += event.peak_kpa;
        count[static_cast<std::size_t>(event.position)] += 1;
    }
    for (std::size_t i = 0; i < sum.size(); ++i) truth.peak_kpa.push_back(sum[i] / count[i]);
    const double highest = *std::max_element(truth.peak_kpa.begin(), truth.peak_kpa.end());
    for (const double peak : truth.peak_kpa) truth.contribution_pct.push_back(100 * peak / highest);

    const std::vector<double> marks = cycle_marks(truth, truth.settled_s);
    const auto at = [](double time_s) { return static_cast<std::size_t>(time_s / step_s); };
    double current = 0;
    for (std::size_t i = at(marks.front()); i < at(marks.back()); ++i)
        current += static_cast<double>(motion.current_a[i]);
    truth.mean_a = current / static_cast<double>(at(marks.back()) - at(marks.front()));
    truth.inrush_a = static_cast<double>(*std::max_element(motion.current_a.begin(), motion.current_a.end()));
}

void record(Motion& motion, const Plant& plant, double coil_a, std::optional<int> pressure_position) {
    const double current = plant.electric.current_a + coil_a;
    motion.current_a.push_back(static_cast<float>(current));
    motion.battery_v.push_back(
        static_cast<float>(battery_v(plant.circuit, plant.electric) - plant.circuit.battery_ohm * coil_a));
    motion.angle_rad.push_back(plant.angle_rad);
    motion.rotor_rad.push_back(plant.rotor_rad);
    if (pressure_position)
        motion.pressure_pa.push_back(static_cast<float>(
            plant.cylinders[static_cast<std::size_t>(*pressure_position)].gas.pressure_pa));
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
    truth.end_s = open_ended ? plan.duration_s : plan.stop_s;
    sum_up(truth, run.motion, options.engine.layout.cylinders());
    return run;
}

}  // namespace evenstroke::synth
