// What one cylinder's gas does to the crank: polytropic compression with a leak, on a grid of crank angle.
//
// Volumes are in swept volumes, pressures in ambient pressures, so torque comes out in swept volume x
// ambient.
#pragma once

#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

/// The nodes of a model cycle, evenly spaced in crank angle: fine_grid or coarse_grid.
struct Grid {
    int steps = 360;  ///< of a cycle
    [[nodiscard]] constexpr double step_deg() const { return cycle_deg / steps; }
    [[nodiscard]] constexpr double step_rad() const { return step_deg() * pi / 180; }
    /// The node that `node`, of any cycle, is in the first.
    [[nodiscard]] constexpr std::size_t wrapped(int node) const {
        return static_cast<std::size_t>((node % steps + steps) % steps);
    }
};
/// 2 degrees resolve the sharpest gas torque (30 degrees from trough to peak) to better than 0.2 %.
inline constexpr Grid fine_grid{360};
/// 4 degrees tell which of a search's trials are on their way, in half the time.
inline constexpr Grid coarse_grid{180};

/// Crank radius over rod length; 0.25 to 0.33 in road engines (common practice), its effect here is second
/// order.
inline constexpr double crank_to_rod_ratio = 0.29;
/// Intake valve closing after bottom dead centre as the charge feels it at cranking speed (common practice 40
/// to 60).
inline constexpr double intake_closes_after_bdc_deg = 45.0;
/// Exhaust valve opening: pressure falls to ambient between these angles after firing TDC (common practice).
inline constexpr double exhaust_opens_deg = 130.0;
inline constexpr double exhaust_fully_open_deg = 165.0;
/// Behind an exhaust valve that stays shut the charge is compressed once more, until the intake opens a
/// little before the next TDC (common practice: 5 to 20 degrees) and lets it out.
inline constexpr double intake_opens_deg = 345.0;
inline constexpr double intake_let_out_deg = 360.0;
/// The lobes lift the valves between these, seat to seat (common practice): the exhaust from before bottom to
/// after top, the intake from before top to after bottom.
inline constexpr double exhaust_closes_deg = 370.0;
inline constexpr double intake_closes_deg = 600.0;
/// Polytropic exponent of compression (references.md B2: 1.2-1.3 printed, 1.32-1.37 for motored engines).
inline constexpr double polytropic_exponent = 1.32;

/// One cylinder's compression.
struct CylinderGas {
    double firing_deg = 0;       ///< firing TDC on the cycle grid
    double intake_ratio = 0.95;  ///< pressure during intake, ambient = 1
    double charge_ratio = 0.95;  ///< pressure when the intake valve closes, ambient = 1
    double leak_per_s = 0.05;    ///< share of the charge lost a second at swept volume and choked flow
    double compression_ratio = 10;
    bool exhaust_shut = false;  ///< its exhaust valve never opens
};

/// A cylinder's terms at every node of the cycle grid, independent of speed and leak. What means nothing
/// while the cylinder is open stands for nothing there.
struct GasTable {
    Grid grid;
    std::vector<double> slope;     ///< dV/dangle, swept volumes per radian, until the exhaust is open
    std::vector<double> pressure;  ///< of the closed cylinder, without leak and with charge 1
    std::vector<double> leak;      ///< share of the charge lost per leak_per_s and second, while choked
    std::vector<double> open;      ///< 0 closed … 1 open to ambient; -1 on intake
    /// Torque of its valve springs on the crank, the highest of one lobe = 1: opening a valve takes what
    /// closing it gives back.
    std::vector<double> valves;
    std::vector<double> ratio_slope;       ///< d ln pressure / d ln (compression ratio - 1), closed part
    std::vector<double> leak_ratio_slope;  ///< d ln leak / d ln (compression ratio - 1)
    int first_closed = 0;  ///< node at which the closed part starts (may be < 0: previous cycle)
    int closed_nodes = 0;
};

/// Volume in swept volumes at `angle_rad` after TDC.
[[nodiscard]] double relative_volume(double compression_ratio, double angle_rad);

/// Volume when the intake closes over that at TDC: to the power of polytropic_exponent it is the pressure's
/// gain.
[[nodiscard]] double sealed_volume_ratio(double compression_ratio);

/// Leak flow relative to choked flow, between cylinder and ambient, per mass in the cylinder: 1 when choked,
/// 0 at equal pressure, negative when the cylinder draws. The ellipse is the usual fit to the nozzle equation
/// (critical ratio 0.528 for air, references.md B3).
[[nodiscard]] double leak_flow(double pressure_ratio);
/// d leak_flow / d ln pressure_ratio; without bound towards equal pressure, where the flow turns.
[[nodiscard]] double leak_flow_slope(double pressure_ratio);

/// Overwrites `table` (its memory is reused). Without `with_springs` its `valves` are empty.
void tabulate(const CylinderGas& gas, Grid grid, bool with_springs, GasTable& table);

/// With the valve springs.
[[nodiscard]] GasTable gas_table(const CylinderGas& gas, Grid grid = fine_grid);

}  // namespace evenstroke::contribution
