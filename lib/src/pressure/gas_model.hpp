// One closed compression and expansion of a motored cylinder: first law, wall heat, leak, and the crank's
// speed. Method and sources: docs/pressure.md.
#pragma once

#include <cmath>
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
    double intake_pa = 100e3;       ///< in the cylinder before compression: what its charge warmed up from
    double compression_ratio = 10;  ///< volume at bottom over volume at top
    double inertia_kg_m2 = 0.25;    ///< of the crank and what always turns with it
    double rotor_share = 0.7;       ///< the starter's inertia at the crank, over that
    double friction_nm = 40;        ///< steady friction at the crank
    double drive_share = 1.3;       ///< the starter's torque at the cycle's mean speed, over the friction
    double drive_slope = 2.3;  ///< its rise as the rotor slows: torque lost over speed lost, both relative
    double rotor_lag = 0.1;    ///< at the table's first angle the rotor is slower by this share
    /// What the other cylinders add to half the square of the speed, over the square of the mean speed,
    /// against crank angle, alike in every pulse: coefficients of cubic B-splines on the equal intervals of
    /// `StrokeTable`. Only its change matters.
    std::vector<double> swing;
};

/// What is a pulse's own. Speed: ln w = ln speed + what the torques add from the table's first angle on
/// + slope a, a = crank angle in rad after TDC.
struct PulseState {
    double tdc_s = 0;
    double speed_rad_s = 20;
    double mean_speed_rad_s = 20;  ///< of the cycle
    double slope = 0;
    double start_pa = 150e3;  ///< absolute pressure at the first angle of the table
};

/// The part of the geometry that no unknown changes, tabulated at whole and half steps of the integration.
struct StrokeTable {
    double first_rad = 0;
    double step_rad = 0;               ///< one integration step
    std::vector<double> lift_m3;       ///< [2 steps + 1] volume above that at TDC
    std::vector<double> slope_m3;      ///< [2 steps + 1] dV/dangle, m³/rad
    std::vector<double> wall_m2;       ///< [2 steps + 1] liner uncovered, m²
    std::vector<double> spline_slope;  ///< [(2 steps + 1) * 4] d/dangle of the four B-splines not 0 there …
    std::vector<std::size_t> spline_first;   ///< [2 steps + 1] … and which is the first of them
    std::vector<std::size_t> spline_starts;  ///< [splines] step up to which each is still 0
    std::size_t splines = 0;
    double ends_m2 = 0;  ///< piston crown and head together
    double swept_m3 = 0;
    [[nodiscard]] std::size_t steps() const { return lift_m3.empty() ? 0 : (lift_m3.size() - 1) / 2; }
    [[nodiscard]] std::size_t tdc_step() const {
        return static_cast<std::size_t>(std::lround(-first_rad / step_rad));
    }
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
    std::vector<double> rotor_rad_s;  ///< the starter's, at the crank
    std::vector<double> mass_kg;

    /// Absolute pressure at `time_s`, cubic between steps; straight on beyond either end.
    [[nodiscard]] double at(double time_s) const;
    /// The same for times that ascend from call to call; `after` is 0 at first.
    [[nodiscard]] double next(double time_s, std::size_t& after) const;
    /// … with `after` the first step later than `time_s`.
    [[nodiscard]] double between(double time_s, std::size_t after) const;
};

/// Integrates the pulse by fourth-order Runge-Kutta.
void run(const StrokeTable& table, const CylinderState& cylinder, const PulseState& pulse, GasCurve& curve);

/// The same where nothing has changed up to step `from` since `before`, of which that part is taken over.
void rerun(const StrokeTable& table, const CylinderState& cylinder, const PulseState& pulse,
           const GasCurve& before, std::size_t from, GasCurve& curve);

/// A charge with both valves shut, somewhere in `StrokeTable`.
struct Charge {
    std::size_t step = 0;
    double pressure_pa = 0;
    double mass_kg = 0;
    double speed_rad_s = 20;
};

/// Pressures of the charge at every step from its own to `last_step`, which may lie before it, were the
/// valves shut and the speed steady.
[[nodiscard]] std::vector<double> stay_shut(const StrokeTable& table, CylinderState cylinder,
                                            const Charge& charge, std::size_t last_step);

}  // namespace evenstroke::pressure
