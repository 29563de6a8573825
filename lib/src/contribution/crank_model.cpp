#include "crank_model.hpp"

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

/// Advances one cylinder's charge over the step that ends at `node`. What flows evens the pressures out and
/// stops there: a hole so wide that it would do so within the step leaves ambient pressure, whatever came
/// before.
void leak_step(const CylinderGas& gas, const GasTable& table, std::size_t node, double step_s, std::size_t c,
               double sealed, CrankState& state) {
    const double before = sealed * state.kept[c];
    const double flow = leak_flow(before);
    // The leak area sees 1/V and the root of the temperature: both grow with the ratio near TDC.
    const double leak_ratio_slope = table.ratio_slope[node] * (1 / polytropic_exponent + 0.12);
    const double leak_at_node = table.leak[node];
    const double lost = polytropic_exponent * gas.leak_per_s * leak_at_node * flow * step_s;
    const double bounded = std::clamp(lost, -1.0, 1.9);
    state.kept[c] *= (1 - 0.5 * bounded) / (1 + 0.5 * bounded);
    state.leak_slope[c] -= bounded;
    state.geometry_slope[c] -= bounded * leak_ratio_slope;
    if ((before - 1) * (sealed * state.kept[c] - 1) < 0) {
        state.kept[c] = 1 / sealed;
        state.leak_slope[c] = 0;
        state.geometry_slope[c] = -table.ratio_slope[node];
    }
}

/// Advances the gas of every cylinder to `node`, notes it in `cycle` and returns its torque on the crank.
double gas_torque(const EngineModel& model, const std::vector<GasTable>& tables, int node, double step_s,
                  CrankState& state, ModelCycle& cycle) {
    double torque = 0;
    const std::size_t at = tables.front().grid.wrapped(node);
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
        if (open < 0 || open >= 1) {
            cycle.absolute[row + c] = 0;
            continue;
        }
        const double sealed = gas.charge_ratio * table.pressure[at];
        if (step_s > 0) leak_step(gas, table, at, step_s, c, sealed, state);
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

}  // namespace

double at_degree(const std::vector<double>& nodes, double degree) {
    const std::size_t steps = nodes.size() - 1;
    const double turns = degree / cycle_deg;
    const double node = (turns - std::floor(turns)) * static_cast<double>(steps);
    const auto low = std::min(static_cast<std::size_t>(node), steps - 1);
    const double part = node - static_cast<double>(low);
    return nodes[low] * (1 - part) + nodes[low + 1] * part;
}

CrankState rest_state(const EngineModel& model) {
    CrankState state;
    state.motion = {.crank_rad_s = model.mean_speed_rad_s,
                    .starter_rad_s = model.mean_speed_rad_s,
                    .twist_rad = 0,
                    .load = model.mean_load};
    state.kept.assign(model.cylinders.size(), 1.0);
    state.leak_slope.assign(model.cylinders.size(), 0.0);
    state.geometry_slope.assign(model.cylinders.size(), 0.0);
    return state;
}

namespace {

void prepare(ModelCycle& cycle, Grid grid, std::size_t cylinders) {
    const auto nodes = static_cast<std::size_t>(grid.steps) + 1;
    for (std::vector<double>* v :
         {&cycle.time_s, &cycle.load, &cycle.speed_rad_s, &cycle.starter_rad_s, &cycle.twist_rad, &cycle.gas})
        v->resize(nodes);
    for (std::vector<double>* v : {&cycle.absolute, &cycle.leak_slope, &cycle.geometry_slope})
        v->resize(nodes * cylinders);  // every node is written, or its pressure is 0 and the rest not read
    cycle.peak_ratio.assign(cylinders, 0.0);
    cycle.peak_node.assign(cylinders, 0);
}

}  // namespace

void run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
               ModelCycle& cycle) {
    const Grid grid = tables.front().grid;
    prepare(cycle, grid, tables.size());
    const Joint<double> joint = joint_of<double>(model, grid);
    StepState<double>& now = state.motion;
    double time = 0;
    double coasting = 0;
    double gas = gas_torque(model, tables, 0, 0.0, state, cycle);
    for (int node = 0;; ++node) {
        const auto at = static_cast<std::size_t>(node);
        cycle.time_s[at] = time;
        cycle.load[at] = now.load;
        cycle.speed_rad_s[at] = now.crank_rad_s;
        cycle.starter_rad_s[at] = now.starter_rad_s;
        cycle.twist_rad[at] = now.twist_rad;
        cycle.gas[at] = gas;
        if (node == grid.steps) break;
        const StepAhead<double> ahead = look_ahead<double>(model, joint, now, gas);
        const double gas_after = gas_torque(model, tables, node + 1, ahead.step_s, state, cycle);
        bool driving = false;
        now = advance<double>(model, joint, now, gas_after, ahead, driving);
        if (!driving) coasting += ahead.step_s;
        gas = gas_after;
        time += ahead.step_s;
    }
    cycle.coasting_share = coasting / time;
}

}  // namespace evenstroke::contribution
