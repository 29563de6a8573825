// Crank angle from a channel that marks the cycle.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/angle.hpp"

namespace evenstroke::angle {

/// Which edges of a mark channel are the marks.
struct LeadingEdge {
    bool rising = true;
    bool wide = false;  ///< neither level is short, so that the other edge could be meant: worth saying
};

/// The edges into the level that the channel spends less time at between `from_s` and `to_s`; the rising ones
/// when both levels take about half (a cam disc with one long window).
[[nodiscard]] LeadingEdge leading_edge(const std::vector<Edge>& edges, double from_s, double to_s);

/// What to say of a wide mark.
[[nodiscard]] Notice wide_mark_notice(const std::string& channel, bool rising);

/// Leading edges of a mark channel, seconds, ascending, bounce removed. `from_s` to `to_s` is where to look
/// for which edges lead. Throws Error{unusable} when the channel never changes.
[[nodiscard]] std::vector<double> leading_edges_s(const Recording& recording, const Channel& channel,
                                                  double from_s, double to_s, LeadingEdge& leading);

/// Knots at the marks: 720 degrees apart, or 360 when the load shows that the mark comes once a turn.
[[nodiscard]] CrankAngle by_sync(const Recording& recording, const Trace& trace, const Cranking& cranking,
                                 const EngineLayout& layout, const ReferenceOptions& options);

}  // namespace evenstroke::angle
