#include "crank_model.hpp"

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

constexpr double step_rad = step_deg * pi / 180;
/// The crank never runs slower than this share of its mean in the model, so that a stall takes finite time.
constexpr double slowest_share = 0.03;

/// Flux relative to the flux at the mean load.
double flux(const EngineModel& model, double load) {
    if (model.saturation <= 0) return 1;
    const double x = std::max(load, 0.02 * model.mean_load) / model.mean_load;
    return (1 + model.saturation) * x / (x + model.saturation);
}

/// Advances the gas of every cylinder to `node`; returns the torque that the gas puts on the crank.
double gas_torque(const EngineModel& model, const std::vector<GasTable>& tables, int node, double step_s,
                  CrankState& state, std::vector<double>& peak) {
    double torque = 0;
    const auto at = static_cast<std::size_t>(node % steps_per_cycle);
    for (std::size_t c = 0; c < tables.size(); ++c) {
        const GasTable& table = tables[c];
        const CylinderGas& gas = model.cylinders[c];
        const double open = table.open[at];
        if (open < 0) {
            torque += (gas.intake_ratio - 1) * table.slope[at];
            state.kept[c] = 1;
            continue;
        }
        if (open >= 1) continue;
        const double sealed = gas.charge_ratio * table.pressure[at];
        const double before = sealed * state.kept[c];
        const double lost =
            polytropic_exponent * gas.leak_per_s * table.leak[at] * leak_flow(before) * step_s;
        state.kept[c] *= lost > -1 ? (1 - 0.5 * std::min(lost, 1.9)) / (1 + 0.5 * lost) : 2.0;
        const double gauge = sealed * state.kept[c] - 1;
        peak[c] = std::max(peak[c], gauge);
        torque += gauge * (1 - open) * table.slope[at];
    }
    return torque * model.gas_scale;
}

double friction(const EngineModel& model, double speed) {
    return model.friction * (1 + model.viscous_share * (speed / model.mean_speed_rad_s - 1));
}

/// Current after `step_s` at starter speed `speed`.
double next_load(const EngineModel& model, double load, double speed, double step_s) {
    const double target = model.stall - model.slope_per_rad_s * flux(model, load) * speed;
    return target + (load - target) * std::exp(-step_s / model.electric_lag_s);
}

}  // namespace

CrankState rest_state(const EngineModel& model) {
    CrankState state;
    state.crank_rad_s = state.starter_rad_s = model.mean_speed_rad_s;
    state.load = model.mean_load;
    state.kept.assign(model.cylinders.size(), 1.0);
    return state;
}

ModelCycle run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state) {
    ModelCycle cycle;
    const auto nodes = static_cast<std::size_t>(steps_per_cycle) + 1;
    cycle.time_s.resize(nodes);
    cycle.load.resize(nodes);
    cycle.speed_rad_s.resize(nodes);
    cycle.peak_ratio.assign(tables.size(), 0.0);
    const double slowest = slowest_share * model.mean_speed_rad_s;
    const double inertia = model.crank_inertia + model.starter_inertia;
    double time = 0;
    double coasting = 0;
    double gas = gas_torque(model, tables, 0, 0.0, state, cycle.peak_ratio);
    for (int node = 0;; ++node) {
        const auto at = static_cast<std::size_t>(node);
        cycle.time_s[at] = time;
        cycle.load[at] = state.load;
        cycle.speed_rad_s[at] = state.crank_rad_s;
        if (node == steps_per_cycle) break;

        const double drive = state.load * flux(model, state.load) - model.starter_drag;
        const double brake = friction(model, state.crank_rad_s) - gas;
        const double rough = state.engaged ? (drive - brake) / inertia : -brake / model.crank_inertia;
        double step_s = step_rad / std::max(slowest, state.crank_rad_s);
        const double ahead = std::max(slowest, state.crank_rad_s + rough * step_s);
        step_s = 2 * step_rad / (std::max(slowest, state.crank_rad_s) + ahead);
        const double gas_next = gas_torque(model, tables, node + 1, step_s, state, cycle.peak_ratio);
        const double brake_mean = 0.5 * (brake + friction(model, ahead) - gas_next);

        if (state.engaged) {
            const double load_next = next_load(model, state.load, 0.5 * (state.crank_rad_s + ahead), step_s);
            const double drive_mean = 0.5 * (drive + load_next * flux(model, load_next) - model.starter_drag);
            const double acceleration = (drive_mean - brake_mean) / inertia;
            const double alone = drive_mean / model.starter_inertia;
            if (acceleration > alone) {  // the clutch would have to pull: it overruns
                state.engaged = false;
                state.starter_rad_s = state.crank_rad_s + alone * step_s;
                state.crank_rad_s =
                    std::max(slowest, state.crank_rad_s - brake_mean / model.crank_inertia * step_s);
            } else {
                state.crank_rad_s = std::max(slowest, state.crank_rad_s + acceleration * step_s);
                state.starter_rad_s = state.crank_rad_s;
            }
            state.load = load_next;
        } else {
            coasting += step_s;
            const double starter_ahead = state.starter_rad_s + drive / model.starter_inertia * step_s;
            const double load_next =
                next_load(model, state.load, 0.5 * (state.starter_rad_s + starter_ahead), step_s);
            const double drive_mean = 0.5 * (drive + load_next * flux(model, load_next) - model.starter_drag);
            state.starter_rad_s += drive_mean / model.starter_inertia * step_s;
            state.crank_rad_s =
                std::max(slowest, state.crank_rad_s - brake_mean / model.crank_inertia * step_s);
            state.load = load_next;
            if (state.starter_rad_s >= state.crank_rad_s) {
                state.engaged = true;
                state.crank_rad_s = state.starter_rad_s =
                    (model.crank_inertia * state.crank_rad_s + model.starter_inertia * state.starter_rad_s) /
                    inertia;
            }
        }
        gas = gas_next;
        time += step_s;
    }
    cycle.coasting_share = coasting / time;
    return cycle;
}

}  // namespace evenstroke::contribution
