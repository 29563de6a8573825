#include <fmt/core.h>

#include "evenstroke/cranking.hpp"

namespace evenstroke {

void require_inside(const Recording& recording, const LocateOptions& options) {
    const double end_s = recording.start_s + recording.duration_s;
    const auto refuse = [&](const char* option, double asked_s) {
        throw Error(ErrorCode::bad_option, recording.path,
                    fmt::format("{} {} leaves nothing: the recording lasts {:.2f} s, from {:.2f} to {:.2f} s "
                                "of its own time",
                                option, asked_s, recording.duration_s, recording.start_s, end_s),
                    "give seconds of the recording's own time");
    };
    if (options.from_s && *options.from_s >= end_s) refuse("--from", *options.from_s);
    if (options.to_s && *options.to_s <= recording.start_s) refuse("--to", *options.to_s);
}

}  // namespace evenstroke
