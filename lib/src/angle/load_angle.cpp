#include "load_angle.hpp"

#include <string>
#include <utility>
#include <vector>

#include "events_angle.hpp"
#include "sync_angle.hpp"
#include "wheel_angle.hpp"

namespace evenstroke::angle {

namespace {

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

CrankAngle reference_load(const Recording& recording, const Trace& trace, const Cranking& cranking,
                          const EngineLayout& layout, const ReferenceOptions& options) {
    if (options.wheel) {
        CrankAngle wheel = reference_by_wheel(recording, trace, cranking, layout, options);
        if (wheel.no_reference || wheel.offset_sd_deg < tdc_unknown_sd_deg) return wheel;
        return instead_of(wheel, reference_by_events(trace, cranking, layout));
    }
    CrankAngle found = options.sync ? reference_by_sync(recording, trace, cranking, layout, options)
                                    : reference_by_events(trace, cranking, layout);
    if (!options.sync && !found.no_reference) offer_sync(recording, trace, found);
    // What spoilt the trace spoilt the search for cranking in it too, and is the better reason.
    if (found.no_reference && trace.zero_lost) found.no_reference = trace.zero_lost;
    return found;
}

}  // namespace evenstroke::angle
