#include "sync_marks.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "signal/flyback.hpp"
#include "signal/levels.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::angle {

namespace {

/// Marks closer together than this share of the usual period are bounce of one mark.
constexpr double bounce_ratio = 0.2;
/// Marks are missing where the next comes after a whole number of usual periods, each right within this share
/// (settled cranking keeps its speed better); beyond so many the count is a guess.
constexpr double several_share = 0.08;
constexpr double most_marks_on = 4;
/// A level that takes a share of the cycle within this much of a half is no shorter than the other one: speed
/// swings within the cycle, and by more than a tenth of it hardly ever (common practice, no published
/// source).
constexpr double about_half_share = 0.1;
/// A mark longer than this share of the cycle is no pulse: either of its edges may be meant.
constexpr double wide_share = 0.25;

/// Share of the time that the channel is high over whole periods, from its first rising edge to its last
/// between the two times; empty when there is no whole period.
std::optional<double> high_share(const std::vector<Edge>& edges, double from_s, double to_s) {
    double high_s = 0;
    double whole_high_s = 0;
    std::optional<double> first_s;
    double last_s = 0;
    for (std::size_t i = 0; i < edges.size(); ++i) {
        if (!edges[i].rising || edges[i].time_s < from_s || edges[i].time_s > to_s) continue;
        if (!first_s) first_s = edges[i].time_s;
        last_s = edges[i].time_s;
        whole_high_s = high_s;
        if (i + 1 < edges.size()) high_s += edges[i + 1].time_s - edges[i].time_s;
    }
    if (!first_s || !(last_s > *first_s)) return std::nullopt;
    return whole_high_s / (last_s - *first_s);
}

}  // namespace

std::vector<double> periods_of(const std::vector<double>& marks_s) {
    std::vector<double> periods_s;
    for (std::size_t i = 0; i + 1 < marks_s.size(); ++i) periods_s.push_back(marks_s[i + 1] - marks_s[i]);
    return periods_s;
}

int marks_to(double gap_s, double period_s) {
    const double several = std::round(gap_s / period_s);
    if (several < 2 || several > most_marks_on) return 1;
    return std::abs(gap_s / several / period_s - 1) < several_share ? static_cast<int>(several) : 1;
}

std::vector<double> without_disturbances(std::vector<double> marks_s, double period_s) {
    const auto usual = [&](std::size_t from, std::size_t to) {
        return std::abs((marks_s[to] - marks_s[from]) / period_s - 1) < several_share;
    };
    for (std::size_t i = 0; i + 3 < marks_s.size();)
        if (usual(i, i + 2) && usual(i + 2, i + 3))
            marks_s.erase(marks_s.begin() + static_cast<std::ptrdiff_t>(i + 1));
        else
            ++i;
    return marks_s;
}

LeadingEdge leading_edge(const std::vector<Edge>& edges, double from_s, double to_s) {
    auto share = high_share(edges, from_s, to_s);
    if (!share && !edges.empty()) share = high_share(edges, edges.front().time_s, edges.back().time_s);
    if (!share) return {};
    return {.rising = *share <= 0.5 + about_half_share, .wide = std::min(*share, 1 - *share) > wide_share};
}

Notice wide_mark_notice(const std::string& channel, bool rising) {
    return {"wide-mark",
            fmt::format("The marks of \"{}\" are long: their {} edges were used. If the {} edges are meant, "
                        "the names are wrong: add the degrees from one to the other to --sync-lead.",
                        channel, rising ? "rising" : "falling", rising ? "falling" : "rising")};
}

Marks marks_of(const Recording& recording, const Channel& channel, double from_s, double to_s) {
    std::vector<Edge> edges = channel.edges;
    if (edges.empty() && !channel.values.empty()) {
        const auto values = signal::without_flyback(channel.values, recording.rate_hz);
        edges = signal::crossings(values, signal::two_levels(values), recording.rate_hz, recording.start_s);
    }
    if (edges.size() < 2)
        throw Error(ErrorCode::unusable, recording.path + ", channel \"" + channel.name + "\"",
                    "this channel never changes, so it marks nothing",
                    "name the channel that carries the sync with --sync, or omit --sync");
    const LeadingEdge leading = leading_edge(edges, from_s, to_s);
    std::vector<double> marks_s;
    for (const Edge& edge : edges)
        if (edge.rising == leading.rising) marks_s.push_back(edge.time_s);
    if (marks_s.size() < 3) return {marks_s, leading};
    const double usual_s = signal::median(periods_of(marks_s));
    std::vector<double> clean_s;
    for (const double mark_s : marks_s)
        if (clean_s.empty() || mark_s - clean_s.back() > bounce_ratio * usual_s) clean_s.push_back(mark_s);
    return {clean_s, leading};
}

}  // namespace evenstroke::angle
