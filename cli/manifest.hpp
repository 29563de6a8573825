// The list of a batch: a manifest in RFC 4180 text, or a folder.
#pragma once

#include <string>
#include <vector>

#include "crank_options.hpp"

namespace evenstroke::cli {

/// One cell set for one recording.
struct ManifestCell {
    const CrankOption* option = nullptr;
    std::string text;
};

/// One recording to do.
struct ManifestEntry {
    std::string path;                 ///< relative paths are taken from the manifest's folder
    std::vector<ManifestCell> cells;  ///< the options that this row sets
};

/// A folder's recordings by name, or those of a manifest ("-": standard input), in order. Throws
/// Error{cannot_open}, Error{malformed} (with the line) or Error{unusable} (it lists none).
[[nodiscard]] std::vector<ManifestEntry> list_recordings(const std::string& path);

}  // namespace evenstroke::cli
