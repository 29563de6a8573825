// Which line above the numbers holds the titles, and where the rows below it really begin.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "evenstroke/error.hpp"
#include "read/columns.hpp"
#include "read/header.hpp"

namespace evenstroke::reading {

struct FoundTitles {
    std::vector<ColumnTitle> titles;  ///< [columns]; empty name: the file gives none
    /// Index of the first row's line: as given, or a row above it that holds a word or a cell too many.
    std::size_t first_row = 0;
    std::optional<Notice> unused;  ///< a line of titles that does not fit the columns
};

/// Looks upwards from the rows for titles and units. Settings, remarks and blank lines may stand between;
/// past them a line counts as titles only when it names time or units.
[[nodiscard]] FoundTitles find_titles(const std::vector<HeadLine>& lines, const RowBlock& block);

/// True when a line this far from the rows speaks of time or of units, as titles do and settings do not.
[[nodiscard]] bool speaks_of_channels(const std::vector<std::string>& cells, char decimal);

}  // namespace evenstroke::reading
