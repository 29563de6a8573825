// How much each cylinder compresses, relative to the best, with what is known about the error.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/angle.hpp"
#include "evenstroke/figure.hpp"

namespace evenstroke {

/// What a cylinder's loss looks like in a recording.
enum class LossKind {
    leak,   ///< pressure escapes while it is compressed
    charge  ///< less air than usual was compressed
};

/// "leak", "charge".
[[nodiscard]] const char* name(LossKind kind);

/// One cylinder's compression relative to the highest cylinder's, percent of peak gauge pressure.
struct CylinderContribution {
    std::optional<double> contribution_pct;  ///< empty when the recording cannot tell
    std::optional<double> low_pct;           ///< 95 % interval
    std::optional<double> high_pct;
    std::optional<double>
        simple_pct;  ///< hump of current (peak less trough) relative to the highest, as the usual script
    int events = 0;  ///< compressions used
    /// Of a loss that is more than chance; empty for the others, and when the recording cannot tell.
    std::optional<LossKind> loss_kind = {};
};

/// One compression event, for plotting.
struct CompressionEvent {
    int cycle = 0;      ///< from 0
    int position = 0;   ///< from 0
    double tdc_s = 0;   ///< time of this cylinder's firing TDC (mean angle)
    double peak_s = 0;  ///< when the starter works hardest near it: highest current, lowest voltage or speed
    double peak = 0;    ///< in the trace's unit, there
    double trough =
        0;  ///< where it works least before that, back to the event before; of a wheel, before TDC
    std::optional<double> contribution_pct;  ///< of this event alone
};

/// The starter's drive as a current in A tells it. Torque is known only for each volt that drives the loop;
/// drive_figures() puts the volts in.
struct DriveRatios {
    Figure stall_a;            ///< current at standstill
    Figure torque_nm_per_v;    ///< mean torque at the crank, before gear losses
    Figure friction_nm_per_v;  ///< the part of it that is the engine's friction
};

/// A cylinder whose exhaust valve seems never to open, so that it compresses twice a cycle.
struct ShutExhaust {
    std::size_t position = 0;
    bool sure = false;  ///< its own compression is then empty; else the valve may as well be sound
};

struct Contribution {
    std::vector<CylinderContribution> cylinders;  ///< [cylinders] by position
    std::vector<CompressionEvent> events;         ///< in time order
    /// [cycles][cylinders]; empty where a wheel's cycle shows no whole event, and of a cylinder that is not
    /// told.
    std::vector<std::vector<std::optional<double>>> by_cycle_pct;
    std::vector<double> mean_cycle;   ///< the trace averaged over cycles at whole degrees 0…719
    std::vector<double> model_cycle;  ///< what the fitted model gives there; empty when none was fitted
    /// Times at which the fitted model gives the crank angle, ascending, and that angle in degrees after
    /// position 0's first firing TDC; empty when none was fitted.
    std::vector<double> knot_s, knot_deg;
    std::optional<int> cycles_used;           ///< whole cycles that were folded; a wheel's are not
    std::optional<Figure> speed_rpm;          ///< mean; empty when fewer than two cycles tell its scatter
    std::optional<DriveRatios> drive;         ///< of a current in A; empty for a series-wound starter
    std::optional<ShutExhaust> exhaust_shut;  ///< empty where nothing points to one
    std::optional<std::string> inconclusive;  ///< why no verdict can be given at all
    std::vector<Notice> notices;
};

/// Mean speed of the settled cranking: the contribution's own, which leaves the first second out where two
/// cycles remain and counts parts of cycles by how the crank turns within one, else the angle's. Empty where
/// neither tells it.
[[nodiscard]] std::optional<double> mean_speed_rpm(const CrankAngle& angle, const Contribution& contribution);

/// Each cylinder's compression out of the settled cranking. What cannot be told is empty or has a reason in
/// `inconclusive`; nothing is thrown for it.
[[nodiscard]] Contribution estimate(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                                    const EngineLayout& layout);

}  // namespace evenstroke
