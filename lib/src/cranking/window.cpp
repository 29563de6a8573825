#include "window.hpp"

#include <fmt/format.h>

namespace evenstroke::cranking {

std::optional<std::string> outside_recording(const LocateOptions& options, double start_s, double end_s) {
    const auto says = [&](const char* option, double asked_s) {
        return fmt::format(
            "{} {:g} leaves nothing: the recording lasts {:.2f} s, from {:.2f} to {:.2f} s of its own time",
            option, asked_s, end_s - start_s, start_s, end_s);
    };
    if (options.from_s && *options.from_s >= end_s) return says("--from", *options.from_s);
    if (options.to_s && *options.to_s <= start_s) return says("--to", *options.to_s);
    return std::nullopt;
}

}  // namespace evenstroke::cranking
