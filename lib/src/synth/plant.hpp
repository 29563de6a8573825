// The whole invented engine as one state that is stepped in time: cylinders, crank, clutch, starter, battery.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "synth/gas.hpp"
#include "synth/gauge.hpp"
#include "synth/random.hpp"
#include "synth/starter.hpp"

namespace evenstroke::synth {

/// One cylinder: what it is, what it is this cycle, and its gas.
struct Cylinder {
    double tdc_rad = 0;  ///< firing TDC, crank angle
    Geometry geometry;   ///< its own compression ratio
    double intake_opens_rad = 0, intake_closes_rad = 0, exhaust_opens_rad = 0, exhaust_closes_rad = 0;
    double ring_leak_m2 = 0, intake_leak_m2 = 0, exhaust_leak_m2 = 0;
    double exhaust_lift_ratio = 1;  ///< of the usual lift; at 0 the exhaust valve stays shut
    double friction_ratio = 1;

    long cycle = 0;          ///< counted at the gas-exchange TDC
    double late_rad = 0;     ///< this cycle's shift of intake closing
    double leak_ratio = 1;   ///< this cycle's seating of the leaks
    double heat_left_j = 0;  ///< this cycle's fuel, once firing is allowed

    Gas gas;
    double inertia_kg_m2 = 0;     ///< of the piston, at the crank, now
    double inertia_slope = 0;     ///< its change with crank angle
    double slope_m3_per_rad = 0;  ///< dV/dangle now
    double peak_pa = 0;           ///< highest pressure of the compression under way
};

/// A leak between two cylinders.
struct Bridge {
    std::size_t one = 0;
    std::size_t other = 0;
    double area_m2 = 0;
};

/// What the plant is asked to do during a step.
struct Orders {
    bool contact = false;  ///< main contact closed
    bool fire = false;     ///< charges burn
};

struct Plant {
    SynthEngine engine;
    SynthStarter starter;
    Circuit circuit;
    std::vector<Cylinder> cylinders;
    std::vector<Bridge> bridges;
    std::optional<Gauge> gauge;
    Random random{0};

    double angle_rad = 0;  ///< crank; 0 = position 0's firing TDC
    double speed_rad_s = 0;
    double rotor_rad = 0;     ///< rotor, at the crank
    double rotor_rad_s = 0;   ///< rotor, at the crank
    double twist_rad = 0;     ///< of the clutch; 0 when it overruns
    double second_rad_s = 0;  ///< of a dual-mass flywheel's second mass
    double wind_rad = 0;      ///< of its springs: the crank's angle less that mass's
    double plenum_kg = 0;
    double wander = 0;  ///< of friction, in standard deviations
    long steps = 0;
    CircuitState electric;
};

/// Builds the engine at rest. Make-to-make spread and faults are put in here.
[[nodiscard]] Plant build_plant(const SynthOptions& options, std::uint64_t seed);

/// One step of `dt_s`. Cylinders whose phase passed TDC can be told from angle_rad before and after.
void step(Plant& plant, const Orders& orders, double dt_s);

/// Friction of bearings, drives, rings and pump at the crank, N·m, against the motion (signed like the
/// speed).
[[nodiscard]] double friction_nm(const Plant& plant);

/// Crank angle after the cylinder's own firing TDC, [0, 4 pi).
[[nodiscard]] double phase_rad(const Cylinder& cylinder, double crank_rad);

/// Share of full opening of a valve that opens and closes at these phases, with the piston at `phase`.
[[nodiscard]] double valve_opening(double phase_rad, double opens_rad, double closes_rad);

}  // namespace evenstroke::synth
