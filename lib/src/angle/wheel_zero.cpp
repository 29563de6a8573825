#include "wheel_zero.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "signal/interpolate.hpp"
#include "signal/statistics.hpp"
#include "sync_marks.hpp"
#include "trace/wheel_edges.hpp"

namespace evenstroke::angle {

namespace {

/// A sync that comes at one place of the cycle scatters less than this (play of chain or belt, wide pulses).
constexpr double most_sync_scatter_deg = 20.0;
/// So many of its marks lie there; the others are interference, or a crank that rocked back over the mark.
constexpr double least_agreed_share = 0.8;
/// Places from which the agreement of all is counted: a few would do where four in five agree.
constexpr std::size_t most_compared = 32;

/// A sync that is the wheel itself names the wheel and settles no half cycle.
bool sync_is_wheel(const Recording& recording, const ReferenceOptions& options, const std::string& wheel) {
    return options.sync && recording.channels[find_channel(recording, *options.sync)].name == wheel;
}

/// Of the wheel; empty outside its teeth.
std::optional<double> angle_at(const CrankAngle& angle, double at_s) {
    if (angle.time_s.empty() || at_s <= angle.time_s.front() || at_s > angle.time_s.back()) return {};
    return signal::interpolate(angle.time_s, angle.angle_deg, at_s);
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
        if (const auto at = angle_at(angle, edge.time_s)) places.push_back(*at);
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
    const auto leading = leading_edge(sync, angle.time_s.front(), angle.time_s.back());
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

}  // namespace

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
            if (place->wide) angle.notices.push_back(wide_mark_notice(channel.name, place->rising));
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

}  // namespace evenstroke::angle
