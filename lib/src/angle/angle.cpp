#include "evenstroke/angle.hpp"

#include <algorithm>

#include "events_only.hpp"
#include "sync.hpp"
#include "wheel.hpp"

namespace evenstroke {

namespace {

/// Beyond the first and last knot the angle is carried on by no more than one cycle.
constexpr double longest_extension_deg = cycle_deg;

/// A wheel whose place on the crank nobody told does not say where TDC is: the load's own events then tell
/// more.
CrankAngle instead_of(const CrankAngle& wheel, CrankAngle events) {
    events.notices.push_back(
        {"wheel-place-unknown",
         "The teeth of \"" + wheel.channel +
             "\" do not show where TDC is, so the compressions alone set the angle and no cylinder can be "
             "named. Give --sync-lead (degrees from the first tooth after the gap to TDC of the reference "
             "cylinder), or a channel that marks the cycle with --sync."});
    return events;
}

/// Names a channel that marks the cycle and that nobody asked for.
void offer_sync(const Recording& recording, const Trace& trace, CrankAngle& angle) {
    const std::vector<ChannelLook> looks = look(recording);
    for (std::size_t i = 0; i < looks.size(); ++i) {
        const std::string& name = recording.channels[i].name;
        if (looks[i].quantity != Quantity::sync || name == trace.channel) continue;
        angle.notices.push_back(
            {"sync-unused", "The channel \"" + name +
                                "\" looks like a sync, and no --sync was given: with --sync \"" + name +
                                "\" and --order the positions get their cylinder numbers."});
        return;
    }
}

}  // namespace

const char* name(ReferenceKind kind) {
    switch (kind) {
        case ReferenceKind::sync:
            return "sync";
        case ReferenceKind::wheel:
            return "wheel";
        case ReferenceKind::none:
            break;
    }
    return "none";
}

std::optional<double> CrankAngle::at(double when_s) const {
    if (time_s.size() < 2) return std::nullopt;
    const auto above = std::upper_bound(time_s.begin(), time_s.end(), when_s) - time_s.begin();
    const auto b = static_cast<std::size_t>(
        std::clamp<std::ptrdiff_t>(above, 1, static_cast<std::ptrdiff_t>(time_s.size()) - 1));
    const std::size_t a = b - 1;
    const double slope = (angle_deg[b] - angle_deg[a]) / (time_s[b] - time_s[a]);
    const double value = angle_deg[a] + slope * (when_s - time_s[a]);
    if (value < angle_deg.front() - longest_extension_deg || value > angle_deg.back() + longest_extension_deg)
        return std::nullopt;
    return value;
}

CrankAngle reference(const Recording& recording, const Trace& trace, const Cranking& cranking,
                     const EngineLayout& layout, const ReferenceOptions& options) {
    if (cranking.no_cranking) {
        CrankAngle none;
        none.no_reference = cranking.no_cranking;
        return none;
    }
    if (options.wheel || trace.quantity == Quantity::wheel) {
        CrankAngle wheel = reference_by_wheel(recording, trace, cranking, layout, options);
        if (trace.quantity == Quantity::wheel || wheel.no_reference ||
            wheel.offset_sd_deg < tdc_unknown_sd_deg)
            return wheel;
        return instead_of(wheel, angle::by_events(trace, cranking, layout));
    }
    CrankAngle found = options.sync ? angle::by_sync(recording, trace, cranking, layout, options)
                                    : angle::by_events(trace, cranking, layout);
    if (!options.sync && !found.no_reference) offer_sync(recording, trace, found);
    // What spoilt the trace spoilt the search for cranking in it too, and is the better reason.
    if (found.no_reference && trace.zero_lost) found.no_reference = trace.zero_lost;
    return found;
}

}  // namespace evenstroke
