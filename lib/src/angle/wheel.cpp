// Crank angle against time from the teeth of a wheel.
#include "angle/wheel.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "angle/sync.hpp"
#include "signal/statistics.hpp"
#include "trace/wheel_edges.hpp"

namespace evenstroke {

namespace {

/// A sync that comes at one place of the cycle scatters less than this (play of chain or belt, wide pulses).
constexpr double most_sync_scatter_deg = 20.0;
/// So many of its marks lie there; the others are interference, or a crank that rocked back over the mark.
constexpr double least_agreed_share = 0.8;
/// Places from which the agreement of all is counted: a few would do where four in five agree.
constexpr std::size_t most_compared = 32;

/// No starter turns for longer than some tens of seconds. What is fitted to each compression by itself takes
/// time with the cube of the turns, so of more only so many turns and teeth are used.
constexpr std::size_t most_turns = 120;
constexpr std::size_t most_edges = 20'000;
/// The share of them that may lie before the settled part.
constexpr std::size_t run_up_part = 4;

/// Far below any starter, whatever the unit of time: a cold diesel on a weak battery still turns at some 50
/// rpm (common practice, no published source).
constexpr double slowest_cranking_rpm = 20.0;

struct Source {
    std::string channel;
    std::vector<Edge> edges;
};

/// A sync that is the wheel itself names the wheel and settles no half cycle.
bool sync_is_wheel(const Recording& recording, const ReferenceOptions& options, const std::string& wheel) {
    return options.sync && recording.channels[find_channel(recording, *options.sync)].name == wheel;
}

Source source_of(const Recording& recording, const Trace& trace, const ReferenceOptions& options) {
    if (trace.quantity == Quantity::wheel) return {trace.channel, wheel_edges(trace)};
    const std::vector<ChannelLook> looks = look(recording);
    if (options.sync) {
        const std::size_t named = find_channel(recording, *options.sync);
        if (looks[named].quantity == Quantity::wheel)
            return {recording.channels[named].name, wheel_edges(recording, recording.channels[named])};
    }
    for (std::size_t i = 0; i < looks.size(); ++i)
        if (looks[i].quantity == Quantity::wheel)
            return {recording.channels[i].name, wheel_edges(recording, recording.channels[i])};
    throw Error(ErrorCode::unusable, recording.path, "no channel looks like a toothed wheel",
                "omit --wheel, or name the wheel with --sync (with --channel and --quantity wheel to analyse "
                "the wheel itself)");
}

void keep_within(std::vector<Edge>& edges, const Cranking& cranking) {
    std::erase_if(edges, [&cranking](const Edge& edge) {
        return edge.time_s < cranking.start_s - 1e-9 || edge.time_s > cranking.end_s + 1e-9;
    });
}

/// Keeps not more than `most_marks` teeth, from the run-up to the settled part on.
void shorten(std::vector<Edge>& edges, std::size_t most_marks, double settled_s) {
    const std::size_t most = 2 * most_marks;  // a rising and a falling edge each
    if (edges.size() <= most) return;
    const auto settled = std::find_if(edges.begin(), edges.end(),
                                      [settled_s](const Edge& edge) { return edge.time_s >= settled_s; });
    const auto before =
        std::min<std::ptrdiff_t>(settled - edges.begin(), static_cast<std::ptrdiff_t>(most / run_up_part));
    const auto first = std::min(settled - before, edges.end() - static_cast<std::ptrdiff_t>(most));
    edges = std::vector<Edge>(first, first + static_cast<std::ptrdiff_t>(most));
}

/// Says which part of the cranking was used.
Notice long_cranking(const std::vector<Edge>& edges) {
    return {
        "long-cranking",
        fmt::format("A long cranking: only the teeth from {:.1f} to {:.1f} s were analysed. Choose another "
                    "part with --from and --to.",
                    edges.front().time_s, edges.back().time_s)};
}

WheelPattern pattern_of(const Recording& recording, const std::vector<Edge>& edges, int cylinders,
                        const ReferenceOptions& options, std::vector<Notice>& notices) {
    if (options.wheel) return *options.wheel;
    const auto found = recognise_wheel(edges, cylinders);
    if (!found)
        throw Error(ErrorCode::bad_option, recording.path,
                    "the wheel's pattern was not given and is not clear from its teeth",
                    "give it with --wheel, as in --wheel 60-2 (teeth-missing), 24-0 (even), or a list of "
                    "degrees from tooth to tooth");
    notices.push_back(
        {"wheel-recognised",
         fmt::format("The wheel was taken as {} from its teeth{}; give --wheel if that is wrong.",
                     found->text,
                     found->text.ends_with("-0")
                         ? fmt::format(", counted by the compressions of {} cylinders", cylinders)
                         : "")});
    return *found;
}

std::optional<double> angle_at(const std::vector<double>& time_s, const std::vector<double>& angle_deg,
                               double at_s) {
    const auto next = std::lower_bound(time_s.begin(), time_s.end(), at_s);
    if (next == time_s.begin() || next == time_s.end()) return {};
    const auto i = static_cast<std::size_t>(next - time_s.begin());
    const double share = (at_s - time_s[i - 1]) / (time_s[i] - time_s[i - 1]);
    return angle_deg[i - 1] + share * (angle_deg[i] - angle_deg[i - 1]);
}

struct SyncPlace {
    double angle_deg = 0;  ///< on the wheel's angle, modulo 720
    double scatter_deg = 0;
    bool wide = false;    ///< either edge may be meant: the mark is long, or its leading edges disagree
    bool rising = false;  ///< the edge used
};

/// Where on the wheel the edges of one kind come, degrees.
std::vector<double> places_of(const std::vector<Edge>& sync, bool rising, const CrankAngle& angle) {
    std::vector<double> places;
    for (const Edge& edge : sync) {
        if (edge.rising != rising) continue;
        if (const auto at = angle_at(angle.time_s, angle.angle_deg, edge.time_s)) places.push_back(*at);
    }
    return places;
}

/// Those of `places` that lie near `centre`, modulo the cycle.
std::vector<double> near_to(double centre, const std::vector<double>& places) {
    std::vector<double> near;
    for (const double place : places) {
        const double away = std::remainder(place - centre, cycle_deg);
        if (std::abs(away) < most_sync_scatter_deg) near.push_back(centre + away);
    }
    return near;
}

/// The places that most others lie near; empty when they are too few to call it a once-a-cycle mark. Where
/// enough of them agree, some of the candidates are among these.
std::vector<double> agreed(const std::vector<double>& places) {
    std::vector<double> best;
    const std::size_t stride = 1 + places.size() / most_compared;
    for (std::size_t i = 0; i < places.size(); i += stride) {
        std::vector<double> near = near_to(places[i], places);
        if (near.size() > best.size()) best = std::move(near);
    }
    if (static_cast<double>(best.size()) < least_agreed_share * static_cast<double>(places.size())) return {};
    return best;
}

/// Where in the cycle the sync comes, or none when it is no once-a-cycle mark. The other edge kind stands in
/// only where no lead was given: a lead was measured to one of them.
std::optional<SyncPlace> place_of_sync(const std::vector<Edge>& sync, const CrankAngle& angle, bool lead) {
    const auto leading = angle::leading_edge(sync, angle.time_s.front(), angle.time_s.back());
    for (const bool rising : {leading.rising, !leading.rising}) {
        const bool other = rising != leading.rising;
        if (other && lead) break;
        const std::vector<double> places = agreed(places_of(sync, rising, angle));
        if (places.empty()) continue;
        const double scatter = places.size() < 2 ? 0.0 : signal::standard_deviation(places);
        return SyncPlace{signal::median(places), scatter, leading.wide || other, rising};
    }
    return {};
}

/// Whether the wheel tells where in the turn it stands: no part of a turn on its pitches come again.
bool has_mark(const WheelPattern& pattern) {
    constexpr double alike_deg = 0.01;  // sums of written pitches
    const auto& pitch_deg = pattern.pitch_deg;
    const std::size_t teeth = pitch_deg.size();
    for (std::size_t on = 1; on < teeth; ++on) {
        std::size_t alike = 0;
        for (std::size_t i = 0; i < teeth; ++i)
            alike += std::abs(pitch_deg[i] - pitch_deg[(i + on) % teeth]) < alike_deg;
        if (alike == teeth) return false;
    }
    return true;
}

/// Settles half cycle and TDC as far as the user's words and the sync channel allow.
void place_zero(const Recording& recording, const WheelPattern& pattern, const ReferenceOptions& options,
                CrankAngle& angle) {
    angle.once_per_turn = true;
    angle.offset_sd_deg = tdc_unknown_sd_deg;
    double zero = 0;
    if (options.sync && !sync_is_wheel(recording, options, angle.channel)) {
        const Channel& channel = recording.channels[find_channel(recording, *options.sync)];
        const bool told = options.wheel_lead_deg || options.sync_lead_deg != 0;
        const auto place = place_of_sync(wheel_edges(recording, channel), angle, told);
        if (place) {
            zero = place->angle_deg + options.sync_lead_deg;
            angle.once_per_turn = false;
            angle.lead_deg = options.sync_lead_deg;
            angle.sync_channel = channel.name;
            // A cam's mark hardly ever stands at a TDC: without a lead it settles the half cycle only.
            if (told) angle.offset_sd_deg = place->scatter_deg;
            if (place->wide) angle.notices.push_back(angle::wide_mark_notice(channel.name, place->rising));
        } else {
            angle.notices.push_back(
                {"sync-not-once-a-cycle",
                 fmt::format("\"{}\" does not come once every 720 degrees of the wheel, so it cannot tell "
                             "which half of the cycle is which; name another --sync channel.",
                             channel.name)});
        }
    } else if (options.wheel_lead_deg) {
        if (!has_mark(pattern))
            throw Error(
                ErrorCode::bad_option, "--sync-lead",
                fmt::format("a wheel of {} has no tooth of its own to count degrees from", pattern.text),
                "name the cam's channel with --sync, or omit --sync-lead");
        zero = *options.wheel_lead_deg;
        angle.lead_deg = *options.wheel_lead_deg;
        angle.offset_sd_deg = 0;
    }
    for (double& value : angle.angle_deg) value -= zero;
    if (angle.once_per_turn)
        angle.notices.push_back(
            {"half-cycle",
             "The wheel turns twice in a cycle: each position may be the cylinder that fires one turn "
             "later. Record a cam sensor too and name it with --sync to settle it."});
}

void measure_speed(const Cranking& cranking, CrankAngle& angle) {
    const auto& time_s = angle.time_s;
    const auto settled = std::lower_bound(time_s.begin(), time_s.end(), cranking.settled_s - 1e-9);
    auto first = static_cast<std::size_t>(settled - time_s.begin());
    first = std::min(first, time_s.size() - 2);
    const std::size_t last = time_s.size() - 1;
    const double turned = angle.angle_deg[last] - angle.angle_deg[first];
    angle.cycles = static_cast<int>(std::floor(turned / cycle_deg + 1e-9));
    // Whole cycles if there are any, else whole turns, else what there is.
    double whole = turned;
    if (turned >= cycle_deg)
        whole = cycle_deg * std::floor(turned / cycle_deg + 1e-9);
    else if (turned >= turn_deg)
        whole = turn_deg;
    const double start_angle = angle.angle_deg[last] - whole;
    const auto begin = std::lower_bound(angle.angle_deg.begin(), angle.angle_deg.end(), start_angle - 1e-6);
    const auto i = static_cast<std::size_t>(begin - angle.angle_deg.begin());
    angle.speed_rpm = (angle.angle_deg[last] - angle.angle_deg[i]) / 6 / (time_s[last] - time_s[i]);
}

/// Why the teeth cannot come from a cranked engine: no starter turns so slowly, so the unit of time is wrong.
std::optional<std::string> too_slow(const WheelTeeth& teeth) {
    const double turned_deg = teeth.angle_deg.back() - teeth.angle_deg.front();
    const double rpm = turned_deg / 6 / (teeth.time_s.back() - teeth.time_s.front());
    if (rpm >= slowest_cranking_rpm) return {};
    const char* unit = rpm * 1000 < slowest_cranking_rpm ? "microseconds, title it \"Time (us)\""
                                                         : "milliseconds, title it \"Time (ms)\"";
    return fmt::format(
        "the wheel turns at {:.2g} rpm, slower than any starter: check the unit of the time column; if it is "
        "in {}",
        rpm, unit);
}

}  // namespace

CrankAngle reference_by_wheel(const Recording& recording, const Trace& trace, const Cranking& cranking,
                              const EngineLayout& layout, const ReferenceOptions& options) {
    CrankAngle angle;
    angle.kind = ReferenceKind::wheel;
    Source source = source_of(recording, trace, options);
    angle.channel = source.channel;
    std::vector<Edge>& edges = source.edges;
    keep_within(edges, cranking);
    // A load is folded over all its cycles, however many; only the wheel's own analysis must be held short.
    const bool analysed = trace.quantity == Quantity::wheel;
    const std::size_t all = edges.size();
    if (analysed) shorten(edges, most_edges, cranking.settled_s);
    const WheelPattern pattern = pattern_of(recording, edges, layout.cylinders(), options, angle.notices);
    if (analysed) shorten(edges, most_turns * pattern.pitch_deg.size(), cranking.settled_s);
    if (edges.size() < all) angle.notices.push_back(long_cranking(edges));
    const auto teeth = align_teeth(edges, pattern);
    if (!teeth || teeth->angle_deg.back() - teeth->angle_deg.front() < turn_deg - 1e-6) {
        angle.no_reference = "the wheel does not turn once while the engine is being cranked";
        return angle;
    }
    angle.no_reference = too_slow(*teeth);
    if (angle.no_reference) return angle;
    angle.time_s = teeth->time_s;
    angle.angle_deg = teeth->angle_deg;
    angle.notices.push_back(
        {"wheel-edges", fmt::format("The {} edges of the teeth of \"{}\" were used: "
                                    "their pitch is the more regular.",
                                    teeth->rising ? "rising" : "falling", angle.channel)});
    if (teeth->missed + teeth->extra > 0)
        angle.notices.push_back(
            {"teeth-repaired",
             fmt::format("{} missing and {} surplus edges were repaired; if there are many, check --wheel "
                         "{} and the sensor's air gap.",
                         teeth->missed, teeth->extra, pattern.text)});
    place_zero(recording, pattern, options, angle);
    measure_speed(cranking, angle);
    return angle;
}

}  // namespace evenstroke
