// Crank angle against time: from a sync channel, a toothed wheel, or the compression events themselves.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/cranking.hpp"
#include "evenstroke/engine.hpp"

namespace evenstroke {

enum class ReferenceKind { sync, wheel, none };

[[nodiscard]] const char* name(ReferenceKind kind);

/// One turn of a toothed wheel. [teeth present] degrees from each tooth to the next; they sum to 360.
struct WheelPattern {
    std::vector<double> pitch_deg;
    std::string text;  ///< as the user wrote it: "60-2"
};

/// Reads "60-2", "36-1", "24-0", "36-2-2-2" or a list of pitches ("20,20,50,…", or multiples that sum to a
/// turn). Throws Error{bad_option}.
[[nodiscard]] WheelPattern parse_wheel(const std::string& text);

struct ReferenceOptions {
    std::optional<std::string> sync;  ///< channel name or number; with a wheel also the wheel itself
    double sync_lead_deg = 0;  ///< from the sync edge on to the firing TDC of position 0; within one cycle
    std::optional<WheelPattern> wheel;
    /// from the wheel's first tooth after its gap on to the firing TDC of position 0, when no other channel
    /// is the sync
    std::optional<double> wheel_lead_deg;
};

/// CrankAngle::offset_sd_deg where TDC may be anywhere in the cycle.
inline constexpr double tdc_unknown_sd_deg = 180;

/// Crank angle of position 0's cycle: 0, 720, 1440 … at its firing TDC.
/// With ReferenceKind::none zero is the start of the first settled event and true TDC is not known.
struct CrankAngle {
    ReferenceKind kind = ReferenceKind::none;
    std::string channel;         ///< of the sync or the wheel; empty for none
    std::string sync_channel;    ///< with a wheel: the channel that settled which half of the cycle it is
    double lead_deg = 0;         ///< means nothing when offset_sd_deg says that TDC is not known
    std::vector<double> time_s;  ///< knots, ascending
    std::vector<double>
        angle_deg;  ///< at the knots, ascending: 720 between knots for a sync, one tooth for a wheel.
    /// How well TDC itself is known, standard deviation: 0 for a sync, whose lead is the user's word; the
    /// scatter of its place for a wheel that another channel places, tdc_unknown_sd_deg where nothing does; a
    /// compression's width for the events.
    double offset_sd_deg = 0;
    bool once_per_turn = false;  ///< the mark comes every 360 degrees: positions may be half a cycle off
    std::optional<double> ran_away_s;  ///< the mark after which the engine turned too fast to be cranked
    /// Mean over whole cycles: all usable ones, but of a wheel not those of the first second where two
    /// remain.
    double speed_rpm = 0;
    int cycles = 0;                           ///< whole usable cycles between settled_s and end_s
    std::optional<std::string> no_reference;  ///< why no angle could be found; the rest then means nothing
    std::vector<Notice> notices;

    /// Mean angle at `time_s` by linear interpolation between knots (extrapolated by one cycle at most);
    /// empty outside.
    [[nodiscard]] std::optional<double> at(double time_s) const;
};

/// Crank angle against time out of a sync, a wheel's teeth or the compression events themselves. What cannot
/// be told has its reason in `no_reference`. Throws Error{no_such_channel} or Error{unusable} (a sync that
/// never changes) or Error{bad_option} (also a lead of more than a cycle either way).
[[nodiscard]] CrankAngle reference(const Recording& recording, const Trace& trace, const Cranking& cranking,
                                   const EngineLayout& layout, const ReferenceOptions& options = {});

/// What the cylinder at one position may be called.
struct CylinderName {
    std::optional<int> cylinder;  ///< empty when the order or the reference does not tell
    std::vector<int> possible;    ///< the two candidates when the mark comes every 360 degrees; else empty
    std::string label;            ///< "cylinder 3", "cylinder 3 or 2", "position 2" (counted from 1)
};

/// [cylinders] by position. Names need a firing order, a reference, and TDC known better than half the
/// shortest firing interval.
[[nodiscard]] std::vector<CylinderName> cylinder_names(const CrankAngle& angle, const EngineLayout& layout);

}  // namespace evenstroke
