#include "sync_angle.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <utility>

#include "cranking/load_signal.hpp"
#include "hump_width.hpp"
#include "signal/fft.hpp"
#include "signal/periodicity.hpp"
#include "signal/statistics.hpp"
#include "sync_marks.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::angle {

namespace {

/// A period shorter than this share of the cranking one belongs to an engine that has started.
constexpr double runaway_ratio = 0.8;
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
/// A twin with one hump between two marks, as shares of the time between them. Narrower than 56 degrees of a
/// turn no compression is (its torque alone stands above half its height for some 60, and inertia widens what
/// the load shows of it), so that there is one in two turns; wider than 133 degrees of two turns none is
/// below 400 rpm, so that there is one in each.
constexpr double narrow_hump_share = 0.155, wide_hump_share = 0.185;
constexpr double hump_log_odds = 6;

/// The settled, unfired part of `load`, the whole trace's.
std::vector<float> settled_part(const Trace& trace, const std::vector<float>& load,
                                const Cranking& cranking) {
    if (load.empty() || cranking.end_s <= cranking.settled_s) return {};
    const auto at = [&](double time_s) {
        return load.begin() + static_cast<std::ptrdiff_t>(trace.sample_at(time_s));
    };
    return {at(cranking.settled_s), at(cranking.end_s)};
}

double speed_log_prior(double rpm) {
    const double away = std::log(rpm / usual_speed_rpm) / speed_log_sd;
    return -away * away / 2;
}

/// How many marks make one cycle.
struct MarkCount {
    bool two = false;
    bool unclear = false;  ///< a twin's one hump between two marks would fit either
};

/// What the width of a twin's one hump between two marks says of two marks a cycle, as log odds.
double width_log_odds(double share) {
    return share < narrow_hump_share ? -hump_log_odds
           : share > wide_hump_share ? hump_log_odds
                                     : fits_log_odds;
}

/// Half the usual time from a mark to the next but one: where one cylinder of two compresses, one turn takes
/// longer than the other.
double mean_period(const std::vector<double>& marks_s) {
    std::vector<double> pairs_s;
    for (std::size_t i = 0; i + 2 < marks_s.size(); ++i) pairs_s.push_back(marks_s[i + 2] - marks_s[i]);
    return pairs_s.empty() ? marks_s[1] - marks_s[0] : signal::median(pairs_s) / 2;
}

/// Two marks a cycle are believed only on evidence: once per cycle is the usual sync. `marks_s`: two at
/// least.
MarkCount marks_a_cycle(const Trace& trace, const Cranking& cranking, const EngineLayout& layout,
                        const std::vector<double>& marks_s) {
    const double period_s = mean_period(marks_s);
    if (120 / period_s > fastest_cranking_rpm) return {.two = true};
    const std::vector<float> whole_load = cranking::load_signal(trace).values;
    const std::vector<float> load = settled_part(trace, whole_load, cranking);
    const double odds = speed_log_prior(60 / period_s) - speed_log_prior(120 / period_s);
    const auto lags = signal::autocorrelation(load);
    const auto lag = static_cast<std::size_t>(std::lround(period_s * trace.rate_hz));
    if (2 * lag < lags.size() * 2 / 3) {
        // Odd firing, unequal cylinders or an odd number of them: the load repeats after two marks, not after
        // one.
        const double after_one = static_cast<double>(lags[lag]);
        const double after_two = static_cast<double>(lags[2 * lag]);
        if (after_two > 0.5 && after_two - after_one > repeat_gain) return {.two = true};
    }
    if (load.empty() || !layout.fires_evenly()) return {};
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
    if (!fits) return {.two = odds + misfits_log_odds > 0};
    if (layout.cylinders() == 2)
        if (const auto share = hump_share(trace, whole_load, marks_s))
            return {.two = odds + width_log_odds(*share) > 0,
                    .unclear = *share >= narrow_hump_share && *share <= wide_hump_share};
    return {.two = odds + (layout.cylinders() >= many_cylinders ? fits_many_log_odds : fits_log_odds) > 0};
}

std::string too_few(const std::string& channel, std::size_t marks) {
    return fmt::format(
        "The sync channel \"{}\" marks the settled cranking {} time{}; two marks are needed for one "
        "cycle. Crank for longer, or check the sync lead.",
        channel, marks, marks == 1 ? "" : "s");
}

/// Knots at the marks of the cranking, `step_deg` apart, missing ones counted.
void add_marks(const std::vector<double>& marks_s, const Cranking& cranking, double period_s, double step_deg,
               CrankAngle& angle) {
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
        angle.angle_deg.push_back(step_deg * number - angle.lead_deg);
        if (past_end) break;
    }
}

/// Speed over the settled marks, and the whole cycles of the settled part.
void set_speed(std::vector<double> settled_s, const Cranking& cranking, double period_s, double step_deg,
               CrankAngle& angle) {
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
}

constexpr const char* marks_unclear =
    "one compression comes between two marks, and its width does not tell whether the sync marks every turn "
    "and both cylinders compress, or every other turn and one of them hardly does: measure both with a "
    "gauge, "
    "or record a sync that is known to mark every other turn";

/// Says where the marks do not come once a cycle, each a cycle after the other.
void say_irregular(const std::vector<double>& periods_s, CrankAngle& angle) {
    if (angle.once_per_turn)
        angle.notices.push_back(
            {"sync-once-per-turn",
             "The sync marks every turn, not every other turn, so cylinders half a cycle apart cannot be "
             "told apart. Use a cam or ignition signal of one cylinder, once per 720 degrees."});
    const auto [shortest, longest] = std::minmax_element(periods_s.begin(), periods_s.end());
    if (*longest > 1.5 * *shortest)
        angle.notices.push_back(
            {"uneven-sync",
             fmt::format("The sync marks are unevenly spaced ({:.3f} to {:.3f} s apart): a mark is "
                         "missing, or there are several per cycle. Check the sync's wiring.",
                         *shortest, *longest)});
}

}  // namespace

CrankAngle reference_by_sync(const Recording& recording, const Trace& trace, const Cranking& cranking,
                             const EngineLayout& layout, const ReferenceOptions& options) {
    const Channel& channel = recording.channels[find_channel(recording, *options.sync)];
    if (channel.name == trace.channel)
        throw Error(
            ErrorCode::bad_option, recording.path,
            "--sync and the channel to analyse are both \"" + channel.name + "\"",
            "name the channel that marks the cycle with --sync, or omit --sync: positions are then given "
            "instead of cylinders");
    CrankAngle angle{.kind = ReferenceKind::sync, .channel = channel.name, .lead_deg = options.sync_lead_deg};
    const Marks marks = marks_of(recording, channel, cranking.settled_s, cranking.end_s);
    std::vector<double> marks_s;
    std::vector<double> settled_s;
    for (const double mark_s : marks.times_s) {
        if (mark_s < cranking.start_s) continue;
        marks_s.push_back(mark_s);
        if (mark_s >= cranking.settled_s && mark_s <= cranking.end_s) settled_s.push_back(mark_s);
    }
    if (settled_s.size() < 2) {
        angle.no_reference = too_few(channel.name, settled_s.size());
        return angle;
    }
    if (marks.leading.wide) angle.notices.push_back(wide_mark_notice(channel.name, marks.leading.rising));
    const std::vector<double> periods_s = periods_of(settled_s);
    const double period_s = signal::median(periods_s);
    const MarkCount count = marks_a_cycle(trace, cranking, layout, settled_s);
    if (count.unclear) {
        angle.no_reference = marks_unclear;
        return angle;
    }
    angle.once_per_turn = count.two;
    const double step_deg = angle.once_per_turn ? cycle_deg / 2 : cycle_deg;
    add_marks(without_disturbances(std::move(marks_s), period_s), cranking, period_s, step_deg, angle);
    set_speed(without_disturbances(std::move(settled_s), period_s), cranking, period_s, step_deg, angle);
    say_irregular(periods_s, angle);
    return angle;
}

}  // namespace evenstroke::angle
