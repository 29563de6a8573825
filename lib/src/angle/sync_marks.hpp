// The marks of a channel that marks the cycle. Private to the library.
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

struct Marks {
    std::vector<double> times_s;  ///< ascending
    LeadingEdge leading;          ///< which edges they are
};

/// Leading edges of a mark channel, bounce removed. `from_s` to `to_s` is where to look for which edges lead.
/// Throws Error{unusable} when the channel never changes.
[[nodiscard]] Marks marks_of(const Recording& recording, const Channel& channel, double from_s, double to_s);

/// The times between neighbouring marks.
[[nodiscard]] std::vector<double> periods_of(const std::vector<double>& marks_s);

/// How many marks on the next one is: more than one where the distance is that of several usual ones.
[[nodiscard]] int marks_to(double gap_s, double period_s);

/// Leaves out each mark that stands between two that are a usual period apart and are followed by another
/// such period: a disturbance. An engine that starts keeps its short periods.
[[nodiscard]] std::vector<double> without_disturbances(std::vector<double> marks_s, double period_s);

}  // namespace evenstroke::angle
