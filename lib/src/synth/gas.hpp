// The gas in one cylinder: mass and temperature, fed and drained by orifices, cooled by the walls.
#pragma once

#include "evenstroke/engine.hpp"

namespace evenstroke::synth {

/// J/(kg K), dry air.
inline constexpr double gas_constant = 287.0;

/// Ratio of specific heats of air at `temperature_k`: 1.40 when cold, falling as it heats. Linear, from the
/// common air tables (1.400 at 300 K, 1.376 at 600 K, 1.336 at 1000 K); from memory.
[[nodiscard]] double heat_ratio(double temperature_k);

/// Flow factor psi in  mass flow = area * p / sqrt(R T) * psi  of an ideal gas through a nozzle, at the
/// pressure ratio behind to before (0 to 1); below the critical ratio the flow is choked.
/// Formula: references.md B3 (compressible flow, k = 1.4 for the fixed-k table used in the loop).
[[nodiscard]] double flow_factor(double pressure_ratio, double k);

/// Mass flow, kg/s, from state (p, T) before an area to `back_pa` behind it.
[[nodiscard]] double orifice_flow(double area_m2, double pressure_pa, double temperature_k, double back_pa,
                                  double k);

/// A large volume at the other side of an opening.
struct Reservoir {
    double pressure_pa = 0;
    double temperature_k = 0;
};

/// One opening between cylinder and reservoir.
struct Path {
    double area_m2 = 0;  ///< effective
    Reservoir far;
};

struct Walls {
    double temperature_k = 315;
    double bore_m = 0.086;
    double gas_speed_m_s = 1;  ///< for the heat transfer; follows the mean piston speed
    bool cooled = true;        ///< false: no heat is lost
};

/// State of the gas. Pressure and volume are kept beside mass and temperature; they agree.
struct Gas {
    double mass_kg = 0;
    double temperature_k = 293;
    double volume_m3 = 0;
    double pressure_pa = 0;
    double heat_w_per_m2_k = 0;  ///< heat transfer coefficient, refreshed every few steps
};

/// Gas at rest at a pressure.
[[nodiscard]] Gas fill(double volume_m3, double pressure_pa, double temperature_k);

/// Refreshes the heat transfer coefficient: Woschni's form without combustion term (from memory:
/// 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa, w = 2.28 x mean piston speed).
void refresh_heat(Gas& gas, const Walls& walls);

/// Moves the piston to `volume_m3` (reversible), then lets `paths` flow and the wall take heat for `dt_s`,
/// then adds `heat_j`. Flow is stepped implicitly in pressure, so that a wide-open valve stays stable.
/// `into_kg[path]` receives the mass that came in (negative: left).
void advance(Gas& gas, double volume_m3, const Path* paths, int path_count, double* into_kg,
             const Walls& walls, double wall_area_m2, double heat_j, double dt_s);

/// Takes `mass_kg` out; what stays behind cools as it expands. Pressure follows at the next `advance`.
void drain(Gas& gas, double mass_kg, double k);

}  // namespace evenstroke::synth
