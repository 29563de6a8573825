// How the model cycle moves when its quantities move: the linearised equations run along a cycle.
#pragma once

#include <Eigen/Core>

#include "crank_model.hpp"

namespace evenstroke::contribution {

/// The shared columns of a tangent; then three a cylinder: ln leak, ln charge, ln (compression ratio - 1).
enum Column {
    col_stall,
    col_slope,
    col_lag,
    col_crank_inertia,
    col_starter_inertia,
    col_drag,
    col_overrun,
    col_friction,
    col_viscous,
    col_saturation,
    col_clutch,
    col_sprung_inertia,
    col_spring,
    col_gas_scale,
    col_valves,
    col_intake,      ///< ln of the pressure that all cylinders breathe
    col_offset_rad,  ///< all firing TDCs later
    shared_columns
};
inline constexpr int columns_per_cylinder = 3;

/// What a trace shows of a cycle.
enum class Seen { load, speed };

/// The motion at a node, in the order of StepState's members; the last two with a dual-mass flywheel only.
enum Motion { in_crank, in_starter, in_twist, in_load, in_sprung, in_wind };

/// Derivatives of one periodic cycle, columns x nodes unless it says otherwise.
struct Tangent {
    /// Of the load, I, or of the crank's speed, rad/s; of the time. Below the columns stand rows of working
    /// space.
    Eigen::MatrixXd seen, time;
    Eigen::ArrayXXd peak;  ///< cylinders x columns
    /// Of the motion at node 0: its derivatives, motions x columns; and by what the difference that a cycle
    /// leaves between its end and its start is multiplied to be gone after the next.
    Eigen::MatrixXd motion, settling;
};

/// Linearises about `cycle`, which was run from a state near its periodic one; `tangent` is overwritten (its
/// memory is reused).
void tangent_of(const EngineModel& model, const std::vector<GasTable>& tables, const ModelCycle& cycle,
                Seen seen, Tangent& tangent);

}  // namespace evenstroke::contribution
