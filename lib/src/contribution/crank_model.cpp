#include "crank_model.hpp"

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

constexpr double step_rad = step_deg * pi / 180;
/// The crank never runs slower than this share of its mean in the model, so that a stall takes finite time.
constexpr double slowest_share = 0.03;

/// Advances one cylinder's charge over the step that ends at a node.
void leak_step(const CylinderGas& gas, double leak_at_node, double leak_ratio_slope, double step_s,
               std::size_t c, double sealed, CrankState& state) {
    const double flow = leak_flow(sealed * state.kept[c]);
    const double lost = polytropic_exponent * gas.leak_per_s * leak_at_node * flow * step_s;
    const double bounded = std::clamp(lost, -1.0, 1.9);
    state.kept[c] *= (1 - 0.5 * bounded) / (1 + 0.5 * bounded);
    state.leak_slope[c] -= bounded;
    state.geometry_slope[c] -= bounded * leak_ratio_slope;
}

/// Advances the gas of every cylinder to `node`, notes it in `cycle` and returns its torque on the crank.
double gas_torque(const EngineModel& model, const std::vector<GasTable>& tables, int node, double step_s,
                  CrankState& state, ModelCycle& cycle) {
    double torque = 0;
    const auto at = static_cast<std::size_t>(node % steps_per_cycle);
    const std::size_t row = static_cast<std::size_t>(node) * tables.size();
    for (std::size_t c = 0; c < tables.size(); ++c) {
        const GasTable& table = tables[c];
        const CylinderGas& gas = model.cylinders[c];
        const double open = table.open[at];
        if (open < 0) {
            torque += (gas.intake_ratio - 1) * table.slope[at];
            state.kept[c] = 1;
            state.leak_slope[c] = state.geometry_slope[c] = 0;
        }
        if (open < 0 || open >= 1) continue;
        const double sealed = gas.charge_ratio * table.pressure[at];
        if (step_s > 0) {
            // The leak area sees 1/V and the root of the temperature: both grow with the ratio near TDC.
            const double rate_slope = table.ratio_slope[at] * (1 / polytropic_exponent + 0.12);
            leak_step(gas, table.leak[at], rate_slope, step_s, c, sealed, state);
        }
        const double absolute = sealed * state.kept[c];
        if (absolute - 1 > cycle.peak_ratio[c]) {
            cycle.peak_ratio[c] = absolute - 1;
            cycle.peak_node[c] = node;
        }
        cycle.absolute[row + c] = absolute;
        cycle.leak_slope[row + c] = state.leak_slope[c];
        cycle.geometry_slope[row + c] = state.geometry_slope[c];
        torque += (absolute - 1) * (1 - open) * table.slope[at];
    }
    return torque * model.gas_scale;
}

/// Current after `step_s` at starter speed `speed`.
double next_load(const EngineModel& model, double load, double speed, double step_s) {
    const double target = model.stall - model.slope_per_rad_s * flux(model, load) * speed;
    return target + (load - target) * std::exp(-step_s / model.electric_lag_s);
}

}  // namespace

double flux(const EngineModel& model, double load) {
    if (model.saturation <= 0) return 1;
    const double x = std::max(load, 0.02 * model.mean_load) / model.mean_load;
    return (1 + model.saturation) * x / (x + model.saturation);
}

double friction(const EngineModel& model, double speed_rad_s) {
    return model.friction * (1 + model.viscous_share * (speed_rad_s / model.mean_speed_rad_s - 1));
}

CrankState rest_state(const EngineModel& model) {
    CrankState state;
    state.crank_rad_s = state.starter_rad_s = model.mean_speed_rad_s;
    state.load = model.mean_load;
    state.kept.assign(model.cylinders.size(), 1.0);
    state.leak_slope.assign(model.cylinders.size(), 0.0);
    state.geometry_slope.assign(model.cylinders.size(), 0.0);
    return state;
}

namespace {

void prepare(ModelCycle& cycle, std::size_t cylinders) {
    const auto nodes = static_cast<std::size_t>(steps_per_cycle) + 1;
    for (std::vector<double>* v :
         {&cycle.time_s, &cycle.load, &cycle.speed_rad_s, &cycle.starter_rad_s, &cycle.gas})
        v->resize(nodes);
    cycle.engaged.resize(nodes);
    for (std::vector<double>* v : {&cycle.absolute, &cycle.leak_slope, &cycle.geometry_slope})
        v->assign(nodes * cylinders, 0.0);
    cycle.peak_ratio.assign(cylinders, 0.0);
    cycle.peak_node.assign(cylinders, 0);
}

}  // namespace

void run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
               ModelCycle& cycle) {
    prepare(cycle, tables.size());
    const double slowest = slowest_share * model.mean_speed_rad_s;
    const double inertia = model.crank_inertia + model.starter_inertia;
    double time = 0;
    double coasting = 0;
    double gas = gas_torque(model, tables, 0, 0.0, state, cycle);
    for (int node = 0;; ++node) {
        const auto at = static_cast<std::size_t>(node);
        cycle.time_s[at] = time;
        cycle.load[at] = state.load;
        cycle.speed_rad_s[at] = state.crank_rad_s;
        cycle.starter_rad_s[at] = state.starter_rad_s;
        cycle.gas[at] = gas;
        cycle.engaged[at] = state.engaged;
        if (node == steps_per_cycle) break;

        const double drive = state.load * flux(model, state.load) - model.starter_drag;
        const double brake = friction(model, state.crank_rad_s) - gas;
        const double rough = state.engaged ? (drive - brake) / inertia : -brake / model.crank_inertia;
        double step_s = step_rad / std::max(slowest, state.crank_rad_s);
        const double ahead = std::max(slowest, state.crank_rad_s + rough * step_s);
        step_s = 2 * step_rad / (std::max(slowest, state.crank_rad_s) + ahead);
        const double gas_next = gas_torque(model, tables, node + 1, step_s, state, cycle);
        const double brake_mean = 0.5 * (brake + friction(model, ahead) - gas_next);
        const double starter_mean = state.engaged
                                        ? 0.5 * (state.crank_rad_s + ahead)
                                        : state.starter_rad_s + 0.5 * drive / model.starter_inertia * step_s;
        const double load_next = next_load(model, state.load, starter_mean, step_s);
        const double drive_mean = 0.5 * (drive + load_next * flux(model, load_next) - model.starter_drag);
        const double together = (drive_mean - brake_mean) / inertia;
        const double alone = drive_mean / model.starter_inertia;
        if (state.engaged && together > alone) {  // the clutch would have to pull: it overruns
            state.engaged = false;
            cycle.engaged[at] = false;
        }
        state.load = load_next;
        if (state.engaged) {
            state.crank_rad_s = std::max(slowest, state.crank_rad_s + together * step_s);
            state.starter_rad_s = state.crank_rad_s;
        } else {
            coasting += step_s;
            const double apart = state.crank_rad_s - state.starter_rad_s;
            const double free_apart = apart - (brake_mean / model.crank_inertia + alone) * step_s;
            // The clutch's drag, implicit in the difference of the speeds.
            const double even = inertia / model.crank_inertia * step_s / model.overrun_s;
            const double mean_apart = 0.5 * (apart + (free_apart - 0.5 * even * apart) / (1 + 0.5 * even));
            const double pull = model.starter_inertia / model.overrun_s * std::max(0.0, mean_apart);
            state.starter_rad_s += (alone + pull / model.starter_inertia) * step_s;
            state.crank_rad_s =
                std::max(slowest, state.crank_rad_s - (brake_mean + pull) / model.crank_inertia * step_s);
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
}

}  // namespace evenstroke::contribution
