#include "read/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include "evenstroke/error.hpp"
#include "evenstroke/units.hpp"
#include "read/interval_line.hpp"
#include "read/thousands.hpp"
#include "read/time_column.hpp"
#include "read/titles.hpp"

namespace evenstroke::reading {

namespace {

constexpr std::size_t most_lines_tried = 2000;
/// Fewer rows than this may rise by ones without counting anything.
constexpr std::size_t least_count = 8;

/// Comma with decimal comma is the quoted kind: "0,5","1,2".
constexpr std::array dialects{Dialect{'\t', '.'}, Dialect{'\t', ','}, Dialect{';', '.'}, Dialect{';', ','},
                              Dialect{',', '.'},  Dialect{',', ','},  Dialect{' ', '.'}, Dialect{' ', ','}};

/// A dialect as it fits the first block.
struct Fit : RowBlock {
    std::size_t rows = 0;  ///< rows of numbers with so many columns
    bool header_agrees = false;
};

/// Cells of a row that holds numbers (or gaps and over-range marks, or a date) only; 0 when it holds text.
std::size_t numeric_cells(std::string_view text, const Dialect& dialect,
                          std::vector<std::string_view>& cells) {
    split(text, dialect.delimiter, cells);
    std::size_t numbers = 0;
    for (const std::string_view cell : cells) {
        const CellKind kind = parse_cell(cell, dialect.decimal).kind;
        if (kind == CellKind::text && !parse_date_time(cell)) return 0;
        if (kind != CellKind::gap || lower(strip_quotes(cell)) == "nan") ++numbers;
    }
    return numbers > 0 ? cells.size() : 0;
}

Fit fit_dialect(const std::vector<HeadLine>& lines, const Dialect& dialect) {
    std::vector<std::string_view> cells;
    std::vector<std::size_t> widths(std::min(lines.size(), most_lines_tried));
    std::map<std::size_t, std::size_t> count_by_width;
    for (std::size_t i = 0; i < widths.size(); ++i) {
        widths[i] = numeric_cells(lines[i].text, dialect, cells);
        if (widths[i] > 0) ++count_by_width[widths[i]];
    }
    Fit fit;
    fit.dialect = dialect;
    for (const auto& [width, count] : count_by_width)
        if (count >= fit.rows) fit.columns = width, fit.rows = count;
    if (fit.rows == 0) return fit;
    const auto is_row = [&](std::size_t i) { return widths[i] == fit.columns; };
    while (!is_row(fit.first_row) ||
           (fit.rows > 1 && fit.first_row + 1 < widths.size() && !is_row(fit.first_row + 1) &&
            !trim(lines[fit.first_row + 1].text).empty()))
        if (++fit.first_row == widths.size()) return {};
    for (std::size_t i = fit.first_row; i-- > 0;) {
        if (trim(lines[i].text).empty()) continue;
        fit.header_agrees = header_cells(lines[i].text, dialect.delimiter).size() == fit.columns;
        break;
    }
    return fit;
}

bool better(const Fit& left, const Fit& right) {
    if (left.rows != right.rows) return left.rows > right.rows;
    if (left.header_agrees != right.header_agrees) return left.header_agrees;
    return left.columns > right.columns;
}

/// The decimal mark, when the lines tried hold whole numbers only: that of the first number with one.
char later_decimal(const std::vector<HeadLine>& lines, const Fit& fit) {
    std::vector<std::string_view> cells;
    for (std::size_t i = fit.first_row; i < lines.size(); ++i) {
        split(lines[i].text, fit.dialect.delimiter, cells);
        for (const std::string_view cell : cells) {
            const std::size_t at = cell.find_first_of(".,");
            if (at == std::string_view::npos || parse_cell(cell, cell[at]).kind != CellKind::number) continue;
            return i < most_lines_tried ? fit.dialect.decimal : cell[at];
        }
    }
    return fit.dialect.decimal;
}

std::string shortened(std::string_view text) {
    constexpr std::size_t most_shown = 60;
    const std::string clean = to_utf8(text.substr(0, most_shown));
    return text.size() > most_shown ? clean + "…" : clean;
}

[[noreturn]] void refuse_no_numbers(const std::vector<HeadLine>& lines, const std::string& name) {
    const auto text =
        std::find_if(lines.begin(), lines.end(), [](const HeadLine& l) { return !trim(l.text).empty(); });
    if (text == lines.end())
        throw Error(ErrorCode::unusable, name, "the file holds blank lines only", "export the capture again");
    const std::string place = name + ":" + std::to_string(text->line);
    std::vector<std::string> titles;
    for (const char delimiter : {'\t', ';', ','})
        if (titles.size() < 2) titles = header_cells(text->text, delimiter);
    if (titles.size() >= 2 && lines.size() <= 3)
        throw Error(ErrorCode::unusable, place, "a header, but no row of numbers below it",
                    "export the capture again with its samples");
    throw Error(ErrorCode::malformed, place,
                "no rows of numbers were found; the text begins \"" + shortened(text->text) + "\"",
                "export the capture as CSV: one row a sample, a time column first");
}

/// Half as many titles as cells: every number was parted at its decimal comma.
void refuse_ambiguous_commas(const std::vector<HeadLine>& lines, const Fit& fit, const std::string& place) {
    const std::size_t used = columns_in_use(lines, fit);
    bool next_to_rows = true;
    for (std::size_t i = fit.first_row; i-- > 0;) {
        if (trim(lines[i].text).empty()) continue;
        const auto titles = header_cells(lines[i].text, ',');
        if (titles.size() >= 2 && titles.size() * 2 == used &&
            (next_to_rows || speaks_of_channels(titles, '.')))
            throw Error(ErrorCode::malformed, place, "commas both separate the cells and mark the decimals",
                        "export with semicolons or tabs, or with a decimal point");
        next_to_rows = false;
    }
}

Fit best_fit(const std::vector<HeadLine>& lines, const std::string& name) {
    Fit best;
    for (const Dialect& dialect : dialects) {
        const Fit fit = fit_dialect(lines, dialect);
        if (fit.rows > 0 && (best.rows == 0 || better(fit, best))) best = fit;
    }
    if (best.rows == 0) refuse_no_numbers(lines, name);
    if (lines.size() > most_lines_tried) best.dialect.decimal = later_decimal(lines, best);
    const std::string place = name + ":" + std::to_string(lines[best.first_row].line);
    if (best.columns > max_columns)
        throw Error(
            ErrorCode::unsupported, place,
            std::to_string(best.columns) + " columns; at most " + std::to_string(max_columns) + " are read",
            "export time and the channels of the starter only");
    if (best.dialect.delimiter == ',' && best.dialect.decimal == '.' && !best.header_agrees)
        refuse_ambiguous_commas(lines, best, place);
    return best;
}

/// A running number beside the time: so titled and rising, or without a unit and counting the rows.
bool is_index(const std::vector<HeadLine>& lines, const Fit& fit, const Table& table, std::size_t column) {
    const ColumnTitle& title = table.titles[column];
    const auto values = column_values(lines, fit, column);
    if (names_index(title.name)) return counts_upwards(values);
    return !find_unit(title.unit) && values.size() >= least_count && counts_by_one(values);
}

/// The rate of rows without a time column: what a line says of samples holds for every step of a running
/// number. Throws Error{malformed, unusable} when it is not known.
void settle_rate(const std::vector<HeadLine>& lines, const RowBlock& block, std::optional<std::size_t> index,
                 const std::optional<FoundInterval>& said, std::optional<double> rate_hz,
                 const std::string& place, Table& table) {
    if (said && said->doubt)
        throw Error(ErrorCode::malformed, place, *said->doubt,
                    "keep the line that holds for these rows, or add a time column");
    if (!said && !rate_hz)
        throw Error(ErrorCode::unusable, place,
                    table.columns == 1 ? "one column and no time: the rate of the samples is not known"
                                       : "no time column and no sample interval: the rate is not known",
                    "give the samples a second with --rate HZ, or name the time column \"Time (s)\"");
    if (!said || !index) return;
    const auto step = count_step(column_values(lines, block, *index));
    if (!step || *step == 1) return;
    *table.interval_s *= *step;
    table.notices.push_back(
        {"samples-skipped", fmt::format("the running number in column {} rises by {} a row, so {} times the "
                                        "interval of line {} lies between rows",
                                        *index + 1, *step, *step, said->line)});
}

}  // namespace

Table find_table(const std::vector<HeadLine>& lines, const std::string& name, std::optional<double> rate_hz) {
    const Fit fit = best_fit(lines, name);
    refuse_thousands(lines, fit, name);
    Table table;
    table.dialect = fit.dialect;
    table.columns = fit.columns;
    const auto interval = find_interval(lines, fit, name);
    if (interval) {
        table.interval_s = interval->interval_s;
        table.interval_line = interval->line;
    }
    FoundTitles found = find_titles(lines, fit);
    table.titles = std::move(found.titles);
    table.first_data_line = lines[found.first_row].line;
    if (found.unused) table.notices.push_back(*std::move(found.unused));
    const std::string place = name + ":" + std::to_string(table.first_data_line);
    const std::optional<double> given_s = rate_hz ? std::optional(1 / *rate_hz) : std::nullopt;
    const TimeColumns times = find_time(lines, fit, table.titles, table.interval_s,
                                        table.interval_s ? table.interval_s : given_s, place);
    table.time_column = times.time;
    table.time_is_date = times.is_date;
    if (table.time_column && !table.time_is_date) {
        const auto unit = find_unit(table.titles[*table.time_column].unit);
        table.time_unit_known = unit && unit->dimension == Dimension::time;
        if (table.time_unit_known) table.time_factor = unit->factor;
    }
    const std::size_t used = columns_in_use(lines, fit);
    for (std::size_t c = 0; c < fit.columns; ++c) {
        const bool said_again = std::count(times.said_again.begin(), times.said_again.end(), c) > 0;
        const bool blank = c >= used && table.titles[c].name.empty();
        const bool index = times.index == c || (table.time_column && is_index(lines, fit, table, c));
        if (table.time_column != c && !index && !said_again && !blank) table.value_columns.push_back(c);
    }
    if (table.value_columns.empty())
        throw Error(ErrorCode::unusable, place, "there is a time column, but no channel beside it",
                    "export the capture with its channels");
    if (!table.time_column) settle_rate(lines, fit, times.index, interval, rate_hz, place, table);
    return table;
}

}  // namespace evenstroke::reading
