#include "sync.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <utility>

#include "cranking/load_signal.hpp"
#include "signal/fft.hpp"
#include "signal/flyback.hpp"
#include "signal/levels.hpp"
#include "signal/periodicity.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::angle {

namespace {

/// Marks closer together than this share of the usual period are bounce of one mark.
constexpr double bounce_ratio = 0.2;
/// A period shorter than this share of the cranking one belongs to an engine that has started.
constexpr double runaway_ratio = 0.8;
/// Marks are missing where the next comes after a whole number of usual periods, each right within this share
/// (settled cranking keeps its speed better); beyond so many the count is a guess.
constexpr double several_share = 0.08;
constexpr double most_marks_on = 4;
/// Cranking speed before anything is known of it: about 200 rpm, and twice or half of that is unlikely (trade
/// range 150 to 250 rpm, from memory; the spread leaves room for cold diesels and small engines).
constexpr double usual_speed_rpm = 200;
constexpr double speed_log_sd = 0.35;
/// How much better the load must repeat after two marks than after one to prove that a cycle has two marks.
constexpr double repeat_gain = 0.2;
/// Standard deviation of one compression's hump about TDC, crank degrees.
constexpr double compression_sd_deg = 30;
/// Second harmonic over fundamental may exceed that of equal humps by this factor and still be the same
/// train.
constexpr double harmonic_margin = 1.3;
/// Humps that overlap hardly have a second harmonic; noise and unequal cylinders leave this much.
constexpr double least_harmonic_ratio = 0.1;
/// Weight of the harmonics in the decision, as log odds: for two marks a cycle when they fit it, against when
/// not. They fit also where every second compression is missing: of four cylinders two (a gasket between two
/// neighbours), of six or more three and more, which hardly happens.
constexpr double fits_log_odds = 1, fits_many_log_odds = 5;
constexpr int many_cylinders = 6;
/// Correlation of the load with itself half a hump on, at most, for humps that stand apart: -1 for a sine,
/// -0.3 for humps of a third of their distance.
constexpr double opposite_correlation = -0.3;
constexpr double misfits_log_odds = -4;
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

std::vector<double> periods_of(const std::vector<double>& marks_s) {
    std::vector<double> periods_s;
    for (std::size_t i = 0; i + 1 < marks_s.size(); ++i) periods_s.push_back(marks_s[i + 1] - marks_s[i]);
    return periods_s;
}

/// How many marks on the next one is: more than one where the distance is that of several usual ones.
int marks_to(double gap_s, double period_s) {
    const double several = std::round(gap_s / period_s);
    if (several < 2 || several > most_marks_on) return 1;
    return std::abs(gap_s / several / period_s - 1) < several_share ? static_cast<int>(several) : 1;
}

/// Leaves out each mark that stands between two that are a usual period apart and are followed by another
/// such period: a disturbance. An engine that starts keeps its short periods.
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

/// Settled, unfired part of the load.
std::vector<float> settled_load(const Trace& trace, const Cranking& cranking) {
    if (trace.values.empty()) return {};
    const std::vector<float> load = cranking::load_of(trace).values;
    const auto sample = [&](double time_s) {
        return static_cast<std::ptrdiff_t>(
            std::clamp((time_s - trace.start_s) * trace.rate_hz, 0.0, static_cast<double>(load.size())));
    };
    if (cranking.end_s <= cranking.settled_s) return {};
    return {load.begin() + sample(cranking.settled_s), load.begin() + sample(cranking.end_s)};
}

double speed_log_prior(double rpm) {
    const double away = std::log(rpm / usual_speed_rpm) / speed_log_sd;
    return -away * away / 2;
}

/// True when two marks make one cycle. Believed only on evidence: once per cycle is the usual sync.
bool twice_a_cycle(const Trace& trace, const Cranking& cranking, const EngineLayout& layout,
                   double period_s) {
    const std::vector<float> load = settled_load(trace, cranking);
    const double odds = speed_log_prior(60 / period_s) - speed_log_prior(120 / period_s);
    const auto lags = signal::autocorrelation(load);
    const auto lag = static_cast<std::size_t>(std::lround(period_s * trace.rate_hz));
    if (2 * lag < lags.size() * 2 / 3) {
        // Odd firing, unequal cylinders or an odd number of them: the load repeats after two marks, not after
        // one.
        const double after_one = static_cast<double>(lags[lag]);
        const double after_two = static_cast<double>(lags[2 * lag]);
        if (after_two > 0.5 && after_two - after_one > repeat_gain) return true;
    }
    if (load.empty() || !layout.fires_evenly()) return false;
    // Equal humps half as many: the line at the events of a whole cycle is then only their second harmonic.
    const double events_hz = layout.cylinders() / period_s;
    const double whole = std::abs(signal::component(load, trace.rate_hz, events_hz));
    const double half = std::abs(signal::component(load, trace.rate_hz, events_hz / 2));
    const double width = 2 * pi * layout.cylinders() * compression_sd_deg / cycle_deg;
    const double expected = std::max(std::exp(-1.5 * width * width), least_harmonic_ratio);
    // Steep humps have a strong second harmonic: where half as many come, the load half a hump on is
    // opposite.
    const auto hump_lag =
        static_cast<std::size_t>(std::lround(period_s * trace.rate_hz / layout.cylinders()));
    const bool opposite =
        hump_lag < lags.size() && static_cast<double>(lags[hump_lag]) < opposite_correlation;
    const bool fits = opposite || whole < harmonic_margin * expected * half;
    const double for_two = layout.cylinders() >= many_cylinders ? fits_many_log_odds : fits_log_odds;
    return odds + (fits ? for_two : misfits_log_odds) > 0;
}

}  // namespace

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

std::vector<double> leading_edges_s(const Recording& recording, const Channel& channel, double from_s,
                                    double to_s, LeadingEdge& leading) {
    std::vector<Edge> edges = channel.edges;
    if (edges.empty() && !channel.values.empty()) {
        const auto values = signal::without_flyback(channel.values, recording.rate_hz);
        edges = signal::crossings(values, signal::two_levels(values), recording.rate_hz, recording.start_s);
    }
    if (edges.size() < 2)
        throw Error(ErrorCode::unusable, recording.path + ", channel \"" + channel.name + "\"",
                    "this channel never changes, so it marks nothing",
                    "name the channel that carries the sync with --sync, or omit --sync");
    leading = leading_edge(edges, from_s, to_s);
    std::vector<double> marks_s;
    for (const Edge& edge : edges)
        if (edge.rising == leading.rising) marks_s.push_back(edge.time_s);
    if (marks_s.size() < 3) return marks_s;
    const double usual_s = signal::median(periods_of(marks_s));
    std::vector<double> clean_s;
    for (const double mark_s : marks_s)
        if (clean_s.empty() || mark_s - clean_s.back() > bounce_ratio * usual_s) clean_s.push_back(mark_s);
    return clean_s;
}

CrankAngle by_sync(const Recording& recording, const Trace& trace, const Cranking& cranking,
                   const EngineLayout& layout, const ReferenceOptions& options) {
    const Channel& channel = recording.channels[find_channel(recording, *options.sync)];
    if (channel.name == trace.channel)
        throw Error(ErrorCode::bad_option, recording.path,
                    "--sync and the channel to analyse are both \"" + channel.name + "\"",
                    "name the channel that marks the cycle with --sync, or omit --sync: positions are then "
                    "given instead of cylinders");
    CrankAngle angle{.kind = ReferenceKind::sync, .channel = channel.name, .lead_deg = options.sync_lead_deg};
    std::vector<double> marks_s;
    std::vector<double> settled_s;
    LeadingEdge leading;
    for (const double mark_s :
         leading_edges_s(recording, channel, cranking.settled_s, cranking.end_s, leading)) {
        if (mark_s < cranking.start_s) continue;
        marks_s.push_back(mark_s);
        if (mark_s >= cranking.settled_s && mark_s <= cranking.end_s) settled_s.push_back(mark_s);
    }
    if (settled_s.size() < 2) {
        angle.no_reference = fmt::format(
            "The sync channel \"{}\" marks the settled cranking {} time{}; two marks are needed for one "
            "cycle. Crank for longer, or check the sync lead.",
            channel.name, settled_s.size(), settled_s.size() == 1 ? "" : "s");
        return angle;
    }
    if (leading.wide) angle.notices.push_back(wide_mark_notice(channel.name, leading.rising));
    const std::vector<double> all_periods_s = periods_of(settled_s);
    const double period_s = signal::median(all_periods_s);
    marks_s = without_disturbances(std::move(marks_s), period_s);
    settled_s = without_disturbances(std::move(settled_s), period_s);
    angle.once_per_turn = twice_a_cycle(trace, cranking, layout, period_s);
    const double step_deg = angle.once_per_turn ? cycle_deg / 2 : cycle_deg;
    int number = 0;  // of the mark, missing ones counted
    for (std::size_t i = 0; i < marks_s.size(); ++i) {
        const bool after_settling = i > 0 && marks_s[i - 1] >= cranking.settled_s;
        const bool past_end = marks_s[i] > cranking.end_s;
        // Once the key is released or the engine runs, the next mark says nothing of how the crank turned
        // before.
        if (past_end && cranking.ended_by != CrankingEnd::recording_end) break;
        if (after_settling && marks_s[i] - marks_s[i - 1] < runaway_ratio * period_s) {
            angle.ran_away_s = marks_s[i - 1];
            break;
        }
        if (i > 0) number += after_settling ? marks_to(marks_s[i] - marks_s[i - 1], period_s) : 1;
        angle.time_s.push_back(marks_s[i]);
        angle.angle_deg.push_back(step_deg * number - options.sync_lead_deg);
        if (past_end) break;
    }
    const auto fired = [&](double mark_s) { return angle.ran_away_s && mark_s > *angle.ran_away_s; };
    if (std::count_if(settled_s.begin(), settled_s.end(), std::not_fn(fired)) >= 2)
        std::erase_if(settled_s, fired);
    int settled_steps = 0;
    for (const double gap_s : periods_of(settled_s)) settled_steps += marks_to(gap_s, period_s);
    const double whole_turns = settled_steps * step_deg / 360;
    angle.speed_rpm = 60 * whole_turns / (settled_s.back() - settled_s.front());
    const auto first_deg = angle.at(cranking.settled_s);
    const auto last_deg = angle.at(angle.ran_away_s.value_or(cranking.end_s));
    angle.cycles = static_cast<int>(std::max(
        first_deg && last_deg ? (*last_deg - *first_deg) / cycle_deg : 0.0, (whole_turns + 0.01) / 2));
    if (angle.once_per_turn)
        angle.notices.push_back(
            {"sync-once-per-turn",
             "The sync marks every turn, not every other turn, so cylinders half a cycle apart cannot be "
             "told apart. Use a cam or ignition signal of one cylinder, once per 720 degrees."});
    const auto [shortest, longest] = std::minmax_element(all_periods_s.begin(), all_periods_s.end());
    if (*longest > 1.5 * *shortest)
        angle.notices.push_back(
            {"uneven-sync",
             fmt::format("The sync marks are unevenly spaced ({:.3f} to {:.3f} s apart): a mark is missing, "
                         "or there are several per cycle. Check the sync's wiring.",
                         *shortest, *longest)});
    return angle;
}

}  // namespace evenstroke::angle
