// What is true of a recording that `synthesise` made: put in or computed, not measured.
#pragma once

#include <optional>
#include <vector>

#include "evenstroke/cranking.hpp"

namespace evenstroke {

/// One compression: when the cylinder stood at firing TDC, and how high its pressure rose and when.
struct SynthEvent {
    int position = 0;
    double tdc_s = 0;
    double peak_kpa = 0;                   ///< gauge: above the outside
    std::optional<double> peak_s;          ///< empty: the pressure had no top while the crank turned
    std::optional<double> peak_angle_deg;  ///< after firing TDC, so negative: heat and leak bring it forward
};

/// A cylinder as it was built, with its tolerances and faults. Angles are crank degrees after firing TDC,
/// before is negative.
struct TruthCylinder {
    double compression_ratio = 0;
    double intake_opens_deg = 0;
    double intake_closes_deg = 0;
    double exhaust_opens_deg = 0;
    double exhaust_closes_deg = 0;
    double rings_leak_mm2 = 0;  ///< effective areas before each cycle's seating
    double intake_leak_mm2 = 0;
    double exhaust_leak_mm2 = 0;
    std::optional<double> loss_angle_deg;  ///< mean over the steady part, from the peak on to TDC: positive
};

/// What is known because it was put in or computed, not measured.
struct SynthTruth {
    double start_s = 0;    ///< main contact closes
    double settled_s = 0;  ///< first cycle within 5 % of the mean speed of the last half begins here
    /// One second after start_s, or settled_s where that is later or fewer than two cycles would remain. From
    /// here to end_s is the steady part, over which an analysis too takes the speed; the means over
    /// compressions leave out the cycle that began at rest.
    double steady_s = 0;
    double end_s = 0;  ///< contact opens, first charge fires, or last sample
    CrankingEnd ended_by = CrankingEnd::release;
    double inrush_a = 0;   ///< highest true current
    double mean_a = 0;     ///< over whole settled cycles
    double speed_rpm = 0;  ///< mean over the steady part
    double torque_nm = 0;  ///< of the starter at the crank before gear losses, mean over whole settled cycles
    /// Mean of bearings, drives, rings and pump, at the crank: over the gears' efficiency a part of
    /// torque_nm.
    double friction_nm = 0;
    int cycles = 0;                        ///< whole cycles between settled_s and end_s
    std::vector<double> peak_kpa;          ///< [cylinders] mean gauge peak over the steady part
    std::vector<double> contribution_pct;  ///< [cylinders] of the highest
    std::vector<TruthCylinder> cylinders;  ///< [cylinders]
    std::vector<SynthEvent> events;        ///< every unfired firing TDC from start_s to end_s, in time order
    /// What a check-valve gauge reads above the outside once each of its cylinder's `events` is over; empty
    /// without such a gauge.
    std::vector<double> puffs_kpa;
};

}  // namespace evenstroke
