#include "manifest.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <iterator>
#include <utility>

#include "evenstroke/error.hpp"
#include "text_file.hpp"

namespace evenstroke::cli {

namespace {

namespace fs = std::filesystem;

/// Kinds of files that are recordings; others in a folder (notes, results) are passed over.
constexpr const char* recording_kinds[] = {".csv", ".txt",  ".tsv",  ".dat", ".asc",  ".wav",
                                           ".w64", ".rf64", ".flac", ".aif", ".aiff", ".caf"};

[[noreturn]] void malformed(const std::string& name, std::size_t line, const std::string& problem,
                            const std::string& remedy) {
    throw Error(ErrorCode::malformed, fmt::format("{}:{}", name, line), problem, remedy);
}

const CrankOption* find_option(const std::string& column) {
    for (const CrankOption& option : crank_options())
        if (column == option.name) return &option;
    return nullptr;
}

std::string known_columns() {
    std::string text = "path";
    for (const CrankOption& option : crank_options()) text += fmt::format(", {}", option.name);
    return text;
}

bool is_recording(const fs::directory_entry& entry) {
    std::string kind = entry.path().extension().string();
    std::transform(kind.begin(), kind.end(), kind.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    std::error_code unknown;  // a link that leads nowhere, or round in a circle
    return entry.is_regular_file(unknown) && entry.path().filename().string().front() != '.' &&
           std::find(std::begin(recording_kinds), std::end(recording_kinds), kind) !=
               std::end(recording_kinds);
}

std::vector<ManifestEntry> folder_entries(const std::string& path) {
    std::error_code failure;
    std::vector<ManifestEntry> entries;
    for (const auto& entry : fs::directory_iterator(path, failure))
        if (is_recording(entry)) entries.push_back({entry.path().string(), {}});
    if (failure)
        throw Error(ErrorCode::cannot_open, path, "the folder cannot be read: " + failure.message(),
                    "check the permissions");
    if (entries.empty())
        throw Error(ErrorCode::unusable, path, "the folder holds no recordings",
                    "recordings are text (.csv, .txt, .tsv) or audio (.wav, .flac, ...) files");
    std::sort(entries.begin(), entries.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
    return entries;
}

/// One row of a table of text.
struct CsvRow {
    std::size_t line = 1;  ///< of the file, counted from 1: where the row begins
    std::vector<std::string> cells;
};

/// Rows of RFC 4180 text: quotes, doubled quotes, line ends inside quotes; LF and CRLF; a byte order mark is
/// skipped, and so are empty lines. Throws Error{malformed} with the line.
std::vector<CsvRow> parse_csv(const std::string& text, const std::string& name) {
    std::vector<CsvRow> rows;
    CsvRow row;
    std::string cell;
    bool quoted = false;
    std::size_t line = 1;
    std::size_t quote_line = 1;
    const auto end_row = [&] {
        row.cells.push_back(std::exchange(cell, {}));
        const bool empty = row.cells.size() == 1 && row.cells.front().empty();
        if (!empty) rows.push_back(row);
        row = {.line = line, .cells = {}};
    };
    const std::string mark = "\xEF\xBB\xBF";
    for (std::size_t i = text.starts_with(mark) ? mark.size() : 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c == '\n') ++line;
        if (quoted) {
            const bool doubled = c == '"' && i + 1 < text.size() && text[i + 1] == '"';
            if (c == '"' && !doubled)
                quoted = false;
            else
                cell += c;
            if (doubled) ++i;
        } else if (c == '"') {
            if (!cell.empty())
                malformed(name, line, "a quote inside an unquoted cell", "quote the whole cell");
            quoted = true;
            quote_line = line;
        } else if (c == ',') {
            row.cells.push_back(std::exchange(cell, {}));
        } else if (c == '\n') {
            end_row();
        } else if (c != '\r' || i + 1 >= text.size() || text[i + 1] != '\n') {
            cell += c;
        }
    }
    if (quoted) malformed(name, quote_line, "a quoted cell is not closed", "close the quote");
    end_row();
    return rows;
}

/// The entries of a manifest's rows: the first names the columns, `path` and options of crank.
/// Throws Error{malformed} (unknown column, no path, a row of another length) or Error{unusable} (no rows).
std::vector<ManifestEntry> manifest_entries(const std::vector<CsvRow>& rows, const std::string& name,
                                            const fs::path& folder) {
    if (rows.size() < 2)
        throw Error(ErrorCode::unusable, name, "the manifest lists no recordings",
                    "write a line of column names (" + known_columns() + "), then one line per recording");
    auto columns = rows.front().cells;
    for (std::string& column : columns)
        std::transform(column.begin(), column.end(), column.begin(),
                       [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    for (auto column = columns.begin(); column != columns.end(); ++column)
        if (std::find(columns.begin(), column, *column) != column)
            malformed(name, 1, fmt::format("two columns are called \"{}\"", *column), "remove one of them");
    const auto path_column = std::find(columns.begin(), columns.end(), "path") - columns.begin();
    for (const char other : {';', '\t'})
        if (columns.front().find(other) != std::string::npos)
            malformed(name, 1,
                      fmt::format("its cells are separated by {}", other == ';' ? "semicolons" : "tabs"),
                      "a manifest is CSV with commas: save it again with commas between the cells");
    for (const auto& column : columns)
        if (column != "path" && find_option(column) == nullptr)
            malformed(name, 1, fmt::format("there is no column \"{}\"", column),
                      "columns are " + known_columns());
    if (static_cast<std::size_t>(path_column) == columns.size())
        malformed(name, 1, "no column is called path", "call the column of recordings \"path\"");
    std::vector<ManifestEntry> entries;
    for (std::size_t i = 1; i < rows.size(); ++i) {
        const auto& cells = rows[i].cells;
        if (cells.size() != columns.size())
            malformed(name, rows[i].line,
                      fmt::format("{} cell{} under {} columns", cells.size(), cells.size() == 1 ? "" : "s",
                                  columns.size()),
                      "quote cells that hold a comma");
        const fs::path path = cells[static_cast<std::size_t>(path_column)];
        if (path.empty())
            malformed(name, rows[i].line, "the cell under path is empty",
                      "name a recording, or take the row out");
        ManifestEntry entry{path.is_absolute() ? path.string() : (folder / path).string(), {}};
        for (std::size_t k = 0; k < columns.size(); ++k)
            if (columns[k] != "path" && !cells[k].empty())
                entry.cells.push_back({find_option(columns[k]), cells[k]});
        entries.push_back(std::move(entry));
    }
    return entries;
}

}  // namespace

std::vector<ManifestEntry> list_recordings(const std::string& path) {
    std::error_code unknown;  // what hinders here is said when the file is opened
    if (path != "-" && fs::is_directory(path, unknown)) return folder_entries(path);
    return manifest_entries(parse_csv(read_text_file(path), path), path, fs::path(path).parent_path());
}

}  // namespace evenstroke::cli
