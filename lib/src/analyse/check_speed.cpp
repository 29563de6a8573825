#include "check_speed.hpp"

#include <fmt/core.h>

#include "angle/starter_speed.hpp"
#include "evenstroke/error.hpp"
#include "values/words.hpp"

namespace evenstroke {

namespace {

/// No starter turns an engine so fast: what gives such marks is no sync.
constexpr double most_rpm = 1000;

/// What gives the time of a recording, and may be wrong.
const char* time_base(const Recording& recording) {
    return recording.scaled_audio
               ? "check that the file keeps the rate at which it was recorded, not that of a player"
               : "check the unit of the time column, the line that gives the rate, or --rate";
}

}  // namespace

void check_speed(const Recording& recording, CrankAngle& angle) {
    if (angle.kind == ReferenceKind::none || angle.no_reference) return;
    const std::string rpm = plain(angle.speed_rpm, 3);
    if (angle.kind == ReferenceKind::sync && angle.speed_rpm > most_rpm)
        throw Error(
            ErrorCode::unusable, recording.path + ", channel \"" + angle.channel + "\"",
            "its marks would mean " + rpm + " rpm, a speed at which no starter turns an engine",
            "name the channel that marks the cycle with --sync, or omit --sync; if this is it, " +
                std::string(recording.scaled_audio ? "give the file the rate at which it was recorded"
                                                   : "correct the unit of the time column, or the rate"));
    if (angle.speed_rpm >= usual_least_rpm && angle.speed_rpm <= usual_most_rpm) return;
    // The wheel's estimate says itself that no starter turns so fast.
    if (angle.kind == ReferenceKind::wheel && angle.speed_rpm > fastest_cranking_rpm) return;
    const std::string rate = recording.recorded_rate_hz > 0
                                 ? ", " + plain(recording.recorded_rate_hz, 6) + " samples/s"
                                 : std::string();
    angle.notices.push_back(
        {"speed-unusual", fmt::format("{} rpm is unusual for a starter. If the engine did not turn at that "
                                      "speed, the time base is wrong ({}{}): {}.",
                                      rpm, recording.format, rate, time_base(recording))});
}

}  // namespace evenstroke
