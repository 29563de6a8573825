#include "read/thousands.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <optional>

#include "evenstroke/error.hpp"

namespace evenstroke::reading {

namespace {

/// What the cells of one column look like so far.
struct Marks {
    bool all_may_be_thousands = true;
    bool whole_numbers = false;  ///< of three digits, without a mark
    std::optional<std::size_t> first_line;
    std::string first;
};

void see(std::string_view cell, char mark, std::size_t line, Marks& marks) {
    std::string_view digits = strip_quotes(cell);
    if (digits.starts_with('-') || digits.starts_with('+')) digits.remove_prefix(1);
    if (digits.empty()) return;
    constexpr std::size_t group = 3;
    const std::size_t at = digits.find(mark);
    const std::string_view lead = digits.substr(0, at);
    const bool led = !lead.empty() && lead.size() <= group && all_digits(lead);
    if (at == std::string_view::npos) {
        // A short one proves nothing: "0" stands for no value yet, "5" is rounded.
        marks.whole_numbers = marks.whole_numbers || lead.size() == group;
        marks.all_may_be_thousands = marks.all_may_be_thousands && led;
        return;
    }
    const std::string_view behind = digits.substr(at + 1);
    if (!led || lead.front() == '0' || behind.size() != group || !all_digits(behind))
        marks.all_may_be_thousands = false;
    if (!marks.first_line) {
        marks.first_line = line;
        marks.first = strip_quotes(cell);
    }
}

}  // namespace

void refuse_thousands(const std::vector<HeadLine>& lines, const RowBlock& block, const std::string& name) {
    std::vector<Marks> columns(block.columns);
    std::vector<std::string_view> cells;
    for (std::size_t i = block.first_row; i < lines.size(); ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns) continue;
        for (std::size_t c = 0; c < cells.size(); ++c)
            see(cells[c], block.dialect.decimal, lines[i].line, columns[c]);
    }
    for (std::size_t c = 0; c < columns.size(); ++c)
        if (columns[c].all_may_be_thousands && columns[c].whole_numbers && columns[c].first_line)
            throw Error(
                ErrorCode::malformed, fmt::format("{}:{}:{}", name, *columns[c].first_line, c + 1),
                fmt::format("the mark in \"{}\" separates thousands, as the whole numbers beside it show",
                            columns[c].first),
                "export without marks between the thousands");
}

}  // namespace evenstroke::reading
