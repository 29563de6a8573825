// One closed compression and expansion of a motored cylinder: first law, wall heat, leak, and the crank's
// speed. Method and sources: docs/pressure.md.
#pragma once

#include <optional>
#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::pressure {

/// What all pulses of one recording share. SI units.
struct CylinderState {
    double leak_m2 = 0.5e-6;        ///< effective area of all leaks, discharge coefficient included
    double heat_w_m2k = 200;        ///< heat transfer coefficient at the reference state of gas_model.cpp
    double gamma = 1.40;            ///< ratio of specific heats at 300 K
    double ambient_pa = 100e3;      ///< where the leak goes
    double compression_ratio = 10;  ///< volume at bottom over volume at top
    /// ln(speed / speed at TDC's level) against crank angle: coefficients of cubic B-splines on the equal
    /// intervals of `StrokeTable`; the swing that the pulses share.
    std::vector<double> swing;
};

/// What is a pulse's own. Speed: ln w = ln speed + swing(a) + slope a + curve a², a = crank angle in rad
/// after TDC.
struct PulseState {
    double tdc_s = 0;
    double speed_rad_s = 20;
    double slope = 0;
    double curve = 0;
    double start_pa = 150e3;  ///< absolute pressure at the first angle of the table
};

/// The part of the geometry that no unknown changes, tabulated at whole and half steps of the integration.
struct StrokeTable {
    double first_rad = 0;
    double step_rad = 0;           ///< one integration step
    std::vector<double> lift_m3;   ///< [2 steps + 1] volume above that at TDC
    std::vector<double> slope_m3;  ///< [2 steps + 1] dV/dangle, m³/rad
    std::vector<double> wall_m2;   ///< [2 steps + 1] liner uncovered, m²
    std::vector<double> spline;    ///< [(2 steps + 1) * 4] the four B-splines that are not 0 there …
    std::vector<std::size_t> spline_first;  ///< [2 steps + 1] … and which is the first of them
    std::size_t splines = 0;
    double ends_m2 = 0;  ///< piston crown and head together
    double swept_m3 = 0;
    [[nodiscard]] std::size_t steps() const { return lift_m3.empty() ? 0 : (lift_m3.size() - 1) / 2; }
    [[nodiscard]] double angle_rad(std::size_t step) const {
        return first_rad + static_cast<double>(step) * step_rad;
    }
};

/// Angles in rad after TDC; the range is widened to whole steps on either side of TDC.
[[nodiscard]] StrokeTable stroke_table(const Geometry& geometry, double first_rad, double last_rad);

/// The solution at every step.
struct GasCurve {
    std::vector<double> time_s;  ///< on the recording's axis
    std::vector<double> pressure_pa;
    std::vector<double> slope_pa_s;  ///< dp/dt
    std::vector<double> speed_rad_s;
    std::vector<double> mass_kg;

    /// Absolute pressure at `time_s`, cubic between steps; straight on beyond either end.
    [[nodiscard]] double at(double time_s) const;
};

/// Integrates the pulse by fourth-order Runge-Kutta.
void run(const StrokeTable& table, const CylinderState& cylinder, const PulseState& pulse, GasCurve& curve);

}  // namespace evenstroke::pressure
