// Where in the trace the engine is being cranked, unfired: start, settled part, end.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/trace.hpp"

namespace evenstroke {

/// A stretch of time in which the starter turned.
struct Burst {
    double start_s = 0;
    double end_s = 0;
};

enum class CrankingEnd { release, engine_start, recording_end };

/// In the JSON's words: "release", "engine start", "end of recording".
[[nodiscard]] const char* name(CrankingEnd end);

/// What the user may narrow.
struct LocateOptions {
    std::optional<double> from_s;  ///< on the recording's time axis; empty: from its first sample
    std::optional<double> to_s;    ///< empty: to its last
    std::optional<int>
        teeth_per_turn;  ///< of a wheel whose pattern is told: speed is then that of whole cycles
};

/// The longest burst, in the trace's own time.
struct Cranking {
    double start_s = 0;    ///< the starter engages
    double settled_s = 0;  ///< from here on speed has stopped rising: usable cycles begin
    double end_s = 0;      ///< last usable instant (before release or engine start)
    CrankingEnd ended_by = CrankingEnd::recording_end;
    std::optional<double> inrush_a;   ///< highest current at engagement; current traces only
    std::optional<double> mean_a;     ///< mean over the settled part; current traces only
    std::optional<double> resting_v;  ///< before the burst; voltage traces only
    std::optional<double> lowest_v;   ///< voltage traces only: while cranking; empty where it is cut off
    std::optional<double> mean_v;     ///< mean over the settled part; voltage traces only
    /// Swing of the settled load over the middle of its range, 5 to 95 % of the time, hum and ripple smoothed
    /// out; empty for wheels and where less than half a second settled. Compressions make 7 % and more of it.
    std::optional<double> swing_ratio;
    std::vector<Burst> others;               ///< the shorter bursts, in time order
    std::optional<std::string> no_cranking;  ///< why nothing could be located; the times then mean nothing
    std::vector<Notice> notices;
};

/// Whether the load swings too little for an engine that compresses (common practice, no published source).
[[nodiscard]] bool flat(const Cranking& cranking);

/// Throws Error{bad_option} with the recording's path where nothing of it lies between `from_s` and `to_s`.
void require_inside(const Recording& recording, const LocateOptions& options);

/// The longest burst of cranking, its parts and figures; "no cranking" is in the result.
[[nodiscard]] Cranking locate(const Trace& trace, const LocateOptions& options = {});

}  // namespace evenstroke
