// Saying aloud that a check could not be made. Never a silent pass: tools/check repeats every such line.
#pragma once

#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>

namespace evenstroke::test {

/// Prints "SKIPPED: what (why)".
inline void skipped(const std::string& what, const std::string& why) {
    std::fprintf(stderr, "SKIPPED: %s (%s)\n", what.c_str(), why.c_str());
}

/// A file or folder of the data that is not committed, ../shared beside the source tree; when it is missing,
/// says that `what` is skipped and returns nothing.
inline std::optional<std::filesystem::path> shared(const std::string& relative, const std::string& what) {
    const auto path = std::filesystem::path(EVENSTROKE_SOURCE_DIR) / ".." / "shared" / relative;
    if (std::filesystem::exists(path)) return path;
    skipped(what, "../shared/" + relative + " is not there");
    return std::nullopt;
}

}  // namespace evenstroke::test
