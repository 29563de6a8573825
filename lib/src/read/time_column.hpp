// Which column of a table is the time, and which only says the same again or counts the rows.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "read/columns.hpp"
#include "read/header.hpp"

namespace evenstroke::reading {

struct TimeColumns {
    std::optional<std::size_t> time;
    bool is_date = false;                 ///< stamps of date or clock
    std::optional<std::size_t> index;     ///< a running number where there is no time
    std::vector<std::size_t> said_again;  ///< further columns with the same times
};

/// Chooses by title and unit, and by what the column does; without titles the first column is time when it
/// rises. `line_interval_s`: what a line above the numbers says; `given_interval_s`: that, or else the
/// user's. Throws Error{malformed} when two columns are times and differ; `place` is the file and line.
[[nodiscard]] TimeColumns find_time(const std::vector<HeadLine>& lines, const RowBlock& block,
                                    const std::vector<ColumnTitle>& titles,
                                    std::optional<double> line_interval_s,
                                    std::optional<double> given_interval_s, const std::string& place);

}  // namespace evenstroke::reading
