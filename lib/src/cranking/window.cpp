#include "window.hpp"

#include <fmt/format.h>

#include "evenstroke/error.hpp"

namespace evenstroke::cranking {

void require_inside(const LocateOptions& options, double start_s, double end_s) {
    const auto refuse = [&](const char* option, double asked_s) {
        throw Error(ErrorCode::bad_option, fmt::format("{} {:g}", option, asked_s),
                    fmt::format("nothing is left: the recording lasts {:.2f} s, from {:.2f} to {:.2f} s of "
                                "its own time",
                                end_s - start_s, start_s, end_s),
                    "give seconds of the recording's own time");
    };
    if (options.from_s && *options.from_s >= end_s) refuse("--from", *options.from_s);
    if (options.to_s && *options.to_s <= start_s) refuse("--to", *options.to_s);
}

}  // namespace evenstroke::cranking
