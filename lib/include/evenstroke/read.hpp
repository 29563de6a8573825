// From a file, or standard input, to a Recording. Text dialects and audio containers; see docs/formats.md.
#pragma once

#include <cstddef>
#include <iosfwd>
#include <optional>
#include <string>

#include "evenstroke/recording.hpp"

namespace evenstroke {

/// How to read.
struct ReadOptions {
    std::optional<double> rate_hz;  ///< samples a second (> 0), for text that gives no time and no interval
    double keep_rate_hz = 25'000;   ///< a faster capture is low-passed and reduced to no less than this
    std::size_t most_values =
        8'000'000;  ///< over all channels; a longer recording is reduced further, and it is said
};

/// Reads the file at `path` ("-" is standard input) in pieces; memory stays bounded whatever its size.
/// Throws Error (cannot_open, malformed, unsupported, unusable) with file, line or sample, and remedy.
[[nodiscard]] Recording read(const std::string& path, const ReadOptions& options = {});

/// Reads text from a stream; `name` stands for the file in messages. Throws as read() does.
[[nodiscard]] Recording read_text(std::istream& stream, const std::string& name,
                                  const ReadOptions& options = {});

}  // namespace evenstroke
