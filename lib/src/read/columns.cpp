#include "read/columns.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::reading {

namespace {

/// Values of a column that are looked at to tell time from a channel.
constexpr std::size_t rows_judged = 500;

}  // namespace

std::vector<double> column_values(const std::vector<HeadLine>& lines, const RowBlock& block,
                                  std::size_t column) {
    std::vector<double> values;
    std::vector<std::string_view> cells;
    for (std::size_t i = block.first_row; i < lines.size() && values.size() < rows_judged; ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns) continue;
        const Cell cell = parse_cell(cells[column], block.dialect.decimal);
        if (cell.kind == CellKind::number) values.push_back(cell.value);
    }
    return values;
}

std::size_t columns_in_use(const std::vector<HeadLine>& lines, const RowBlock& block) {
    std::vector<std::string_view> cells;
    std::size_t used = 1;
    for (std::size_t i = block.first_row; i < lines.size() && used < block.columns; ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns) continue;
        for (std::size_t c = used; c < cells.size(); ++c)
            if (!trim(cells[c]).empty()) used = c + 1;
    }
    return used;
}

bool rises(const std::vector<double>& values) {
    return values.size() >= 2 && values.back() > values.front() &&
           std::is_sorted(values.begin(), values.end());
}

std::optional<double> count_step(const std::vector<double>& values) {
    if (values.size() < 2 || values[0] != std::floor(values[0])) return std::nullopt;
    const double step = values[1] - values[0];
    if (!(step > 0) || step != std::floor(step)) return std::nullopt;
    for (std::size_t i = 1; i < values.size(); ++i)
        if (values[i] - values[i - 1] != step) return std::nullopt;
    return step;
}

bool counts_by_one(const std::vector<double>& values) {
    return count_step(values) == 1;
}

bool counts_upwards(const std::vector<double>& values) {
    for (std::size_t i = 0; i < values.size(); ++i)
        if (values[i] != std::floor(values[i]) || (i > 0 && values[i] <= values[i - 1])) return false;
    return values.size() >= 2;
}

}  // namespace evenstroke::reading
