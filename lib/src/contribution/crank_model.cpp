#include "crank_model.hpp"

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

/// A step loses no more than this, and draws no more than that: the trapezoid rule ends at 2.
constexpr double most_lost = 1.9, most_drawn = 1.0;

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
        if (model.valve_share > 0) torque += model.valve_share * table.valves[at];
        if (open < 0) {
            torque += (gas.intake_ratio - 1) * table.slope[at];
            state.kept[c] = 1;
        }
        cycle.kept[row + c] = state.kept[c];
        if (open < 0 || open >= 1) {
            cycle.absolute[row + c] = 0;
            continue;
        }
        const double sealed = gas.charge_ratio * table.pressure[at];
        if (step_s > 0) state.kept[c] = leak_step(gas, table, at, step_s, sealed, state.kept[c]).kept;
        cycle.kept[row + c] = state.kept[c];
        const double absolute = sealed * state.kept[c];
        if (absolute - 1 > cycle.peak_ratio[c]) {
            cycle.peak_ratio[c] = absolute - 1;
            cycle.peak_node[c] = node;
        }
        cycle.absolute[row + c] = absolute;
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

LeakStep leak_step(const CylinderGas& gas, const GasTable& table, std::size_t node, double step_s,
                   double sealed, double kept) {
    const double before = sealed * kept;
    const double lost = polytropic_exponent * gas.leak_per_s * table.leak[node] * leak_flow(before) * step_s;
    LeakStep out{.lost = std::clamp(lost, -most_drawn, most_lost)};
    out.bounded = out.lost != lost;
    out.kept = kept * (1 - 0.5 * out.lost) / (1 + 0.5 * out.lost);
    out.evened = (before - 1) * (sealed * out.kept - 1) < 0;
    if (out.evened) out.kept = 1 / sealed;
    return out;
}

CrankState rest_state(const EngineModel& model) {
    CrankState state;
    state.motion = {.crank_rad_s = model.mean_speed_rad_s,
                    .starter_rad_s = model.mean_speed_rad_s,
                    .twist_rad = 0,
                    .load = model.mean_load,
                    .sprung_rad_s = model.mean_speed_rad_s,
                    .wind_rad = 0};
    state.kept.assign(model.cylinders.size(), 1.0);
    return state;
}

namespace {

void prepare(ModelCycle& cycle, Grid grid, std::size_t cylinders, bool sprung) {
    const auto nodes = static_cast<std::size_t>(grid.steps) + 1;
    for (std::vector<double>* v :
         {&cycle.time_s, &cycle.load, &cycle.speed_rad_s, &cycle.starter_rad_s, &cycle.twist_rad, &cycle.gas})
        v->resize(nodes);
    for (std::vector<double>* v : {&cycle.sprung_rad_s, &cycle.wind_rad}) v->resize(sprung ? nodes : 0);
    for (std::vector<double>* v : {&cycle.absolute, &cycle.kept})
        v->resize(nodes * cylinders);  // every node is written
    cycle.peak_ratio.assign(cylinders, 0.0);
    cycle.peak_node.assign(cylinders, 0);
}

template <bool sprung>
void run(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
         ModelCycle& cycle) {
    const Grid grid = tables.front().grid;
    prepare(cycle, grid, tables.size(), sprung);
    const Joint<double> joint = joint_of<sprung, double>(model, grid);
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
        if constexpr (sprung) {
            cycle.sprung_rad_s[at] = now.sprung_rad_s;
            cycle.wind_rad[at] = now.wind_rad;
        }
        cycle.gas[at] = gas;
        if (node == grid.steps) break;
        const auto ahead = look_ahead<sprung, double>(model, joint, now, gas);
        const double gas_after = gas_torque(model, tables, node + 1, ahead.step_s, state, cycle);
        bool driving = false;
        now = advance<sprung, double>(model, joint, now, gas_after, ahead, driving);
        if (!driving) coasting += ahead.step_s;
        gas = gas_after;
        time += ahead.step_s;
    }
    cycle.coasting_share = coasting / time;
}

}  // namespace

void run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
               ModelCycle& cycle) {
    if (has_dual_mass(model))
        run<true>(model, tables, state, cycle);
    else
        run<false>(model, tables, state, cycle);
}

}  // namespace evenstroke::contribution
