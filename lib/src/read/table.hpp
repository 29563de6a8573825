// What kind of table a text file holds, found out from its first block.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/error.hpp"
#include "read/cells.hpp"
#include "read/columns.hpp"
#include "read/header.hpp"

namespace evenstroke::reading {

/// A channel beyond this is not a scope's.
inline constexpr std::size_t max_columns = 1000;

/// The table's plan: where the numbers begin and what the columns are.
struct Table {
    Dialect dialect;
    std::size_t columns = 0;  ///< cells in every data row
    std::size_t first_data_line = 1;
    std::vector<ColumnTitle> titles;   ///< [columns]; empty name: the file gives none
    std::optional<double> interval_s;  ///< from a line above the numbers
    std::size_t interval_line = 0;     ///< which line that is
    std::optional<std::size_t> time_column;
    double time_factor = 1;  ///< seconds for each unit of the time column
    bool time_unit_known = false;
    bool time_is_date = false;               ///< ISO 8601 stamps
    std::vector<std::size_t> value_columns;  ///< the channels, in file order
    std::vector<std::string> cell_units;     ///< [columns]; behind the number in every cell, empty: none
    std::vector<Notice> notices;
};

/// Works the table out from the lines of the first block (at most some thousand are looked at).
/// `rate_hz`: given by the user, so that no time column is needed.
/// Throws Error{malformed, unusable, unsupported}; `name` stands for the file.
[[nodiscard]] Table find_table(const std::vector<HeadLine>& lines, const std::string& name,
                               std::optional<double> rate_hz);

}  // namespace evenstroke::reading
