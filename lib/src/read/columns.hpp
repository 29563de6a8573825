// The rows of numbers in a file's first block, and what a column of them does.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "read/cells.hpp"

namespace evenstroke::reading {

/// A line of the first block.
struct HeadLine {
    std::string_view text;
    std::size_t line = 0;
};

/// Where the rows of numbers lie in the first block, and how they are written.
struct RowBlock {
    Dialect dialect;
    std::size_t columns = 0;    ///< cells in every row
    std::size_t first_row = 0;  ///< index of the line that holds the first of them
};

/// The first rows' numbers (at most some hundred) in one column; empty cells and rows of another width left
/// out.
[[nodiscard]] std::vector<double> column_values(const std::vector<HeadLine>& lines, const RowBlock& block,
                                                std::size_t column);
/// The columns without those at the end whose cells are empty in every row: the work of delimiters at the end
/// of the rows.
[[nodiscard]] std::size_t columns_in_use(const std::vector<HeadLine>& lines, const RowBlock& block);

/// Never falls, and ends higher than it began.
[[nodiscard]] bool rises(const std::vector<double>& values);
/// The step of whole numbers that rise by the same each time; empty when these do not.
[[nodiscard]] std::optional<double> count_step(const std::vector<double>& values);
/// Whole numbers, each one more than the one before.
[[nodiscard]] bool counts_by_one(const std::vector<double>& values);
/// Whole numbers, each greater than the one before.
[[nodiscard]] bool counts_upwards(const std::vector<double>& values);

}  // namespace evenstroke::reading
