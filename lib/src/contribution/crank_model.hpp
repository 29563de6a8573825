// The forward model: one periodic cycle of an engine turned by its starter.
//
// Torque is counted in amperes (or volts of load, on a voltage trace): the starter's torque constant is the
// unit.
#pragma once

#include <vector>

#include "crank_step.hpp"
#include "gas_torque.hpp"

namespace evenstroke::contribution {

/// Everything the model needs: the drive, and the gas of every cylinder.
struct EngineModel : Drive<double> {
    double gas_scale = 30;  ///< I per swept volume x ambient pressure
    /// Highest torque of one lobe's valve springs, swept volumes x ambient pressure; 0: they are left out.
    double valve_share = 0;
    std::vector<CylinderGas> cylinders;

    EngineModel()
        : Drive<double>{.stall = 600,
                        .slope_per_rad_s = 20,
                        .electric_lag_s = 0.004,
                        .crank_inertia = 2,
                        .starter_inertia = 2,
                        .starter_drag = 20,
                        .overrun_s = 0.3,
                        .friction = 80,
                        .viscous_share = 0.5,
                        .saturation = 0,
                        .clutch_rad_s = 350,
                        .sprung_inertia = 0,
                        .spring_rad_s = 75} {}
};

/// State that carries from cycle to cycle.
struct CrankState {
    StepState<double> motion{};
    std::vector<double> kept;  ///< pressure factor that the leak left, by cylinder
};

/// One cycle at the nodes of its grid, and at the first of the next cycle.
struct ModelCycle {
    std::vector<double> time_s;
    std::vector<double> load;  ///< I
    std::vector<double> speed_rad_s;
    std::vector<double> starter_rad_s;
    std::vector<double> gas;  ///< torque of all cylinders' gas, I
    std::vector<double> twist_rad;
    std::vector<double> sprung_rad_s, wind_rad;  ///< empty with a flywheel of one piece
    std::vector<double> absolute;    ///< [nodes x cylinders] pressure while closed, ambient = 1; 0 otherwise
    std::vector<double> kept;        ///< [nodes x cylinders] as in CrankState
    std::vector<double> peak_ratio;  ///< highest gauge pressure of each cylinder, ambient = 1
    std::vector<int> peak_node;
    double coasting_share = 0;  ///< of the cycle's time, that the clutch overruns
};

/// What the nodes of a cycle hold at a crank angle, degrees from node 0 on, which is wrapped; linear between
/// them.
[[nodiscard]] double at_degree(const std::vector<double>& nodes, double degree);

/// What the leak does to one cylinder's charge in a step that ends at a node.
struct LeakStep {
    double lost = 0;       ///< ln of the pressure, where the step is short
    bool bounded = false;  ///< `lost` is held at what a step may lose
    bool evened = false;   ///< the pressures meet within the step and stay even
    double kept = 1;       ///< pressure factor afterwards
};

/// `sealed` is the pressure at the node without leak, `kept` the factor before the step. What flows evens the
/// pressures out and stops there: a hole so wide that it would do so within the step leaves ambient pressure,
/// whatever came before.
[[nodiscard]] LeakStep leak_step(const CylinderGas& gas, const GasTable& table, std::size_t node,
                                 double step_s, double sealed, double kept);

/// Whether the model has a dual-mass flywheel.
[[nodiscard]] inline bool has_dual_mass(const EngineModel& model) {
    return model.sprung_inertia > 0;
}

[[nodiscard]] CrankState rest_state(const EngineModel& model);

/// Runs one cycle on the tables' grid from `state`, which is left at the end of the cycle; `cycle` is
/// overwritten (its memory is reused).
void run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
               ModelCycle& cycle);

}  // namespace evenstroke::contribution
