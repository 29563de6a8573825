// The forward model: one periodic cycle of an engine turned by its starter.
//
// Torque is counted in amperes (or volts of load, on a voltage trace): the starter's torque constant is the
// unit.
#pragma once

#include <vector>

#include "gas_torque.hpp"

namespace evenstroke::contribution {

/// Everything the model needs. I below is the trace's unit.
struct EngineModel {
    double stall = 600;             ///< I at standstill: supply over loop resistance
    double slope_per_rad_s = 20;    ///< I lost per rad/s of crank speed (back-EMF over loop resistance)
    double electric_lag_s = 0.004;  ///< L/R of the loop and the clamp's own lag
    double crank_inertia = 2;       ///< I per rad/s²
    double starter_inertia = 2;     ///< I per rad/s², reflected to the crank
    double overrun_s = 0.3;         ///< time in which the overrunning clutch's own drag evens the speeds
    double starter_drag = 20;       ///< I to turn the starter alone
    double friction = 80;           ///< I at mean speed
    double viscous_share = 0.5;     ///< of the friction, that grows with speed
    double mean_speed_rad_s = 21;
    double mean_load = 180;  ///< I at which the flux is its mean
    double saturation = 0;   ///< 0: constant flux; large: flux in proportion to current (series wound)
    double gas_scale = 30;   ///< I per swept volume x ambient pressure
    std::vector<CylinderGas> cylinders;
};

/// State that carries from cycle to cycle.
struct CrankState {
    double crank_rad_s = 0;
    double starter_rad_s = 0;
    double load = 0;
    bool engaged = true;
    std::vector<double> kept;            ///< pressure factor that the leak left, by cylinder
    std::vector<double> leak_slope;      ///< d ln kept / d ln leak, by cylinder
    std::vector<double> geometry_slope;  ///< d ln kept / d ln (ratio - 1), by cylinder
};

/// One cycle at the nodes 0 … steps_per_cycle (the last is the first of the next cycle).
struct ModelCycle {
    std::vector<double> time_s;
    std::vector<double> load;  ///< I
    std::vector<double> speed_rad_s;
    std::vector<double> starter_rad_s;
    std::vector<double> gas;         ///< torque of all cylinders' gas, I
    std::vector<bool> engaged;       ///< over the step that begins at the node
    std::vector<double> absolute;    ///< [nodes x cylinders] pressure while closed, ambient = 1; 0 otherwise
    std::vector<double> leak_slope;  ///< [nodes x cylinders] d ln pressure / d ln leak
    std::vector<double>
        geometry_slope;  ///< [nodes x cylinders] d ln pressure / d ln (ratio - 1), through the leak
    std::vector<double> peak_ratio;  ///< highest gauge pressure of each cylinder, ambient = 1
    std::vector<int> peak_node;
    double coasting_share = 0;  ///< of the cycle's time, that the clutch overruns
};

[[nodiscard]] CrankState rest_state(const EngineModel& model);

/// Flux relative to the flux at the mean load.
[[nodiscard]] double flux(const EngineModel& model, double load);
/// Friction of the engine at `speed_rad_s`, I.
[[nodiscard]] double friction(const EngineModel& model, double speed_rad_s);

/// Runs one cycle from `state`, which is left at the end of the cycle; `cycle` is overwritten (its memory is
/// reused).
void run_cycle(const EngineModel& model, const std::vector<GasTable>& tables, CrankState& state,
               ModelCycle& cycle);

}  // namespace evenstroke::contribution
