// The list of a batch: a manifest in RFC 4180 text, or a folder.
#pragma once

#include <filesystem>
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

/// One row of a table of text.
struct CsvRow {
    std::size_t line = 1;  ///< of the file, counted from 1: where the row begins
    std::vector<std::string> cells;
};

/// Rows of RFC 4180 text: quotes, doubled quotes, line ends inside quotes; LF and CRLF; a byte order mark is
/// skipped, and so are empty lines. Throws Error{malformed} with the line.
[[nodiscard]] std::vector<CsvRow> parse_csv(const std::string& text, const std::string& name);

/// The entries of a manifest's rows: the first names the columns, `path` and options of crank.
/// Throws Error{malformed} (unknown column, no path, a row of another length) or Error{unusable} (no rows).
[[nodiscard]] std::vector<ManifestEntry> manifest_entries(const std::vector<CsvRow>& rows,
                                                          const std::string& name,
                                                          const std::filesystem::path& folder);

/// A folder's recordings by name, or those of a manifest ("-": standard input), in order. Throws
/// Error{cannot_open} and the above.
[[nodiscard]] std::vector<ManifestEntry> list_recordings(const std::string& path);

}  // namespace evenstroke::cli
