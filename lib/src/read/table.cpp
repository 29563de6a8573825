#include "read/table.hpp"

#include <fmt/core.h>

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
constexpr std::size_t least_rows_counted = 8;

/// Comma with decimal comma is the quoted kind: "0,5","1,2".
constexpr std::array dialects{Dialect{'\t', '.'}, Dialect{'\t', ','}, Dialect{';', '.'}, Dialect{';', ','},
                              Dialect{',', '.'},  Dialect{',', ','},  Dialect{'|', '.'}, Dialect{'|', ','},
                              Dialect{' ', '.'},  Dialect{' ', ','}};

/// A dialect as it fits the first block.
struct Fit : RowBlock {
    std::size_t rows = 0;   ///< rows of numbers with so many columns
    std::size_t texts = 0;  ///< cells of rows that are no numbers
    bool header_agrees = false;
};

/// Whether a row may hold text beside its numbers.
enum class Text { none, beside_numbers };

/// Cells of a row that holds numbers (or gaps and over-range marks, or a date); 0 when it holds none, or text
/// that it may not. `texts` is what it holds of that.
std::size_t numeric_cells(std::string_view text, const Dialect& dialect, Text allowed,
                          std::vector<std::string_view>& cells, std::size_t& texts) {
    split(text, dialect.delimiter, cells);
    std::size_t numbers = 0;
    texts = 0;
    for (const std::string_view cell : cells) {
        const CellKind kind = parse_cell(cell, dialect.decimal).kind;
        if (kind == CellKind::text && !parse_date_time(cell))
            ++texts;
        else if (kind != CellKind::gap || lower(strip_quotes(cell)) == "nan")
            ++numbers;
    }
    if (allowed == Text::none && texts > 0) return 0;
    return numbers > 0 ? cells.size() : 0;
}

/// How a row writes its numbers.
struct Writing {
    bool words_only = true;  ///< every cell is a level in words
    bool any_word = false;
};

Writing writing_of(std::string_view text, const Dialect& dialect, std::vector<std::string_view>& cells) {
    split(text, dialect.delimiter, cells);
    Writing writing{!cells.empty(), false};
    for (const std::string_view cell : cells) {
        const bool word = parse_cell(cell, dialect.decimal).level_word;
        writing.words_only = writing.words_only && word;
        writing.any_word = writing.any_word || word;
    }
    return writing;
}

Fit fit_dialect(const std::vector<HeadLine>& lines, const Dialect& dialect, Text allowed) {
    Fit fit;
    fit.dialect = dialect;
    std::vector<std::string_view> cells;
    std::vector<std::size_t> widths(std::min(lines.size(), most_lines_tried));
    std::map<std::size_t, std::size_t> count_by_width;
    for (std::size_t i = 0; i < widths.size(); ++i) {
        std::size_t texts = 0;
        widths[i] = numeric_cells(lines[i].text, dialect, allowed, cells, texts);
        if (widths[i] > 0) fit.texts += texts;
        if (widths[i] > 0) ++count_by_width[widths[i]];
    }
    for (const auto& [width, count] : count_by_width)
        if (count >= fit.rows) fit.columns = width, fit.rows = count;
    if (fit.rows == 0) return fit;
    const auto is_row = [&](std::size_t i) { return widths[i] == fit.columns; };
    while (!is_row(fit.first_row) ||
           (fit.rows > 1 && fit.first_row + 1 < widths.size() && !is_row(fit.first_row + 1) &&
            !trim(lines[fit.first_row + 1].text).empty()))
        if (++fit.first_row == widths.size()) return {};
    // "Low,High" above rows of digits: titles.
    if (fit.first_row + 1 < widths.size() && is_row(fit.first_row + 1) &&
        writing_of(lines[fit.first_row].text, dialect, cells).words_only &&
        !writing_of(lines[fit.first_row + 1].text, dialect, cells).any_word)
        ++fit.first_row;
    for (std::size_t i = fit.first_row; i-- > 0;) {
        if (trim(lines[i].text).empty()) continue;
        fit.header_agrees = header_cells(lines[i].text, dialect.delimiter).size() == fit.columns;
        break;
    }
    return fit;
}

bool better(const Fit& left, const Fit& right) {
    if (left.rows != right.rows) return left.rows > right.rows;
    if (left.texts != right.texts) return left.texts < right.texts;
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

/// What a file is that begins so and is no table, and nullptr for any other.
const char* other_kind(std::string_view text) {
    const std::string begin = lower(trim(text).substr(0, 16));
    if (begin.starts_with("{\\rtf")) return "a rich text document";
    if (begin.starts_with("%pdf")) return "a PDF document";
    if (begin.starts_with("<!doctype html") || begin.starts_with("<html")) return "an HTML page";
    if (begin.starts_with('<')) return "XML";
    if (begin.starts_with('{') || begin.starts_with("[{")) return "JSON";
    return nullptr;
}

/// The first cell that is no number in the first line below the titles that is as wide as they are.
[[noreturn]] void refuse_text_cell(const std::vector<HeadLine>& lines, std::size_t titles, char delimiter,
                                   const std::string& name) {
    std::vector<std::string_view> cells;
    split(lines[titles].text, delimiter, cells);
    const std::size_t width = cells.size();
    for (std::size_t i = titles + 1; i < lines.size(); ++i) {
        split(lines[i].text, delimiter, cells);
        if (cells.size() != width) continue;
        for (std::size_t c = 0; c < width; ++c)
            if (parse_cell(cells[c], '.').kind == CellKind::text &&
                parse_cell(cells[c], ',').kind == CellKind::text)
                throw Error(
                    ErrorCode::malformed, fmt::format("{}:{}:{}", name, lines[i].line, c + 1),
                    "no rows of numbers were found; this cell holds \"" + shortened(strip_quotes(cells[c])) +
                        "\", which is not a number",
                    "export plain numbers without units or marks between the thousands, one row per sample");
    }
    throw Error(ErrorCode::malformed, name + ":" + std::to_string(lines[titles].line),
                "no rows of numbers were found; the text begins \"" + shortened(lines[titles].text) + "\"",
                "export the capture as CSV: one row per sample, a time column first");
}

void refuse_other_kind(const std::vector<HeadLine>& lines, const std::string& name) {
    for (const HeadLine& line : lines) {
        if (trim(line.text).empty()) continue;
        if (const char* kind = other_kind(line.text))
            throw Error(ErrorCode::unsupported, name + ":" + std::to_string(line.line),
                        std::string("this is ") + kind + ", not a table of text",
                        "export the capture as CSV: one row per sample, a time column first");
        return;
    }
}

[[noreturn]] void refuse_no_numbers(const std::vector<HeadLine>& lines, const std::string& name) {
    const auto text =
        std::find_if(lines.begin(), lines.end(), [](const HeadLine& l) { return !trim(l.text).empty(); });
    if (text == lines.end())
        throw Error(ErrorCode::unusable, name, "the file holds only blank lines", "export the capture again");
    const std::string place = name + ":" + std::to_string(text->line);
    std::vector<std::string> titles;
    char used = ',';
    for (const char delimiter : {'\t', ';', ','})
        if (titles.size() < 2) {
            titles = header_cells(text->text, delimiter);
            used = delimiter;
        }
    if (titles.size() >= 2 && lines.size() <= 3)
        throw Error(ErrorCode::unusable, place, "a header, but no row of numbers below it",
                    "export the capture again with its samples");
    refuse_text_cell(lines, static_cast<std::size_t>(text - lines.begin()), used, name);
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
    for (const Text allowed : {Text::none, Text::beside_numbers}) {
        if (best.rows > 0) break;
        if (allowed == Text::beside_numbers) refuse_other_kind(lines, name);
        for (const Dialect& dialect : dialects) {
            // Between blanks every sentence with a number in it would be a row.
            if (allowed == Text::beside_numbers && dialect.delimiter == ' ') continue;
            const Fit fit = fit_dialect(lines, dialect, allowed);
            if (fit.rows > 0 && (best.rows == 0 || better(fit, best))) best = fit;
        }
    }
    if (best.rows == 0) refuse_no_numbers(lines, name);
    if (lines.size() > most_lines_tried) best.dialect.decimal = later_decimal(lines, best);
    const std::string place = name + ":" + std::to_string(lines[best.first_row].line);
    if (best.columns > max_columns)
        throw Error(
            ErrorCode::unsupported, place,
            std::to_string(best.columns) + " columns; at most " + std::to_string(max_columns) + " are read",
            "export only time and the starter's channels");
    if (best.dialect.delimiter == ',' && best.dialect.decimal == '.' && !best.header_agrees)
        refuse_ambiguous_commas(lines, best, place);
    return best;
}

/// A running number beside the time: so titled and rising, or without a unit and counting the rows.
bool is_index(const std::vector<HeadLine>& lines, const Fit& fit, const Table& table, std::size_t column) {
    const ColumnTitle& title = table.titles[column];
    const auto values = column_values(lines, fit, column);
    if (names_index(title.name)) return counts_upwards(values);
    return !find_unit(title.unit) && values.size() >= least_rows_counted && counts_by_one(values);
}

/// A cell of a column that holds text in every row that is not empty there; empty when it holds numbers.
std::string text_of(const std::vector<HeadLine>& lines, const RowBlock& block, std::size_t column) {
    std::vector<std::string_view> cells;
    std::string text;
    for (std::size_t i = block.first_row; i < lines.size(); ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns || trim(cells[column]).empty()) continue;
        if (parse_cell(cells[column], block.dialect.decimal).kind != CellKind::text) return {};
        if (text.empty()) text = to_utf8(strip_quotes(cells[column]));
    }
    return text;
}

/// The unit behind the number in every cell of a column of text: "A" of "0.24 A"; empty when most hold none.
/// Throws Error{malformed} where they differ, or differ from the title's: the numbers cannot be told then.
std::string unit_in_cells(const std::vector<HeadLine>& lines, const RowBlock& block, std::size_t column,
                          const ColumnTitle& title, const std::string& name) {
    std::vector<std::string_view> cells;
    std::string unit;
    for (std::size_t i = block.first_row; i < lines.size(); ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns || trim(cells[column]).empty()) continue;
        const auto measure = parse_measure(cells[column], block.dialect.decimal);
        const auto known = measure ? find_unit(measure->unit) : std::nullopt;
        if (unit.empty() && !known) return {};
        const auto titled = find_unit(title.unit);
        const bool as_titled = !titled || (known && std::string_view(titled->symbol) == known->symbol);
        if (!as_titled || (!unit.empty() && measure && measure->unit != unit) || !measure)
            throw Error(ErrorCode::malformed, fmt::format("{}:{}:{}", name, lines[i].line, column + 1),
                        fmt::format("the cell \"{}\" has a different unit from its column",
                                    shortened(strip_quotes(cells[column]))),
                        "export plain numbers with the unit in the title, as in \"Clamp (A)\"");
        unit = measure->unit;
    }
    return unit;
}

/// The rate of rows without a time column: what a line says of samples holds for every step of a running
/// number. Throws Error{malformed, unusable} when it is not known.
void settle_rate(const std::vector<HeadLine>& lines, const RowBlock& block, std::optional<std::size_t> index,
                 const std::optional<FoundInterval>& said, std::optional<double> rate_hz,
                 const std::string& place, Table& table) {
    if (said && said->doubt)
        throw Error(ErrorCode::malformed, place, *said->doubt,
                    "keep the line that holds for these rows, or add a time column");
    if (!said && !rate_hz) {
        std::string problem = table.columns == 1
                                  ? "one column and no time: the rate of the samples is not known"
                                  : "no time column and no sample interval: the rate is not known";
        if (const auto line = unused_interval_line(lines, block))
            problem +=
                fmt::format("; line {} does not say whose rate or interval it gives, or in what unit", *line);
        throw Error(ErrorCode::unusable, place, problem,
                    "give the samples per second with --rate HZ, or name the time column \"Time (s)\"");
    }
    if (!said || !index) return;
    const auto step = count_step(column_values(lines, block, *index));
    if (!step || *step == 1) return;
    *table.interval_s *= *step;
    table.notices.push_back(
        {"samples-skipped", fmt::format("the running number in column {} rises by {} per row, so the rows "
                                        "are {} times the interval of line {} apart",
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
    table.cell_units.assign(fit.columns, {});
    for (std::size_t c = 0; c < fit.columns; ++c) {
        const bool said_again = std::count(times.said_again.begin(), times.said_again.end(), c) > 0;
        const bool blank = c >= used && table.titles[c].name.empty();
        const bool index = times.index == c || (table.time_column && is_index(lines, fit, table, c));
        if (table.time_column == c || index || said_again || blank) continue;
        const std::string text = text_of(lines, fit, c);
        if (!text.empty()) table.cell_units[c] = unit_in_cells(lines, fit, c, table.titles[c], name);
        if (!table.cell_units[c].empty() && table.titles[c].unit.empty())
            table.titles[c].unit = table.cell_units[c];
        if (!text.empty() && table.cell_units[c].empty())
            table.notices.push_back(
                {"text-column", fmt::format("column {} holds text (\"{}\") and was left out", c + 1, text)});
        else
            table.value_columns.push_back(c);
    }
    if (table.value_columns.empty() && !table.notices.empty() && table.notices.back().code == "text-column")
        throw Error(ErrorCode::malformed, place, "no channel holds numbers: " + table.notices.back().text,
                    "export plain numbers without units, one row per sample");
    if (table.value_columns.empty())
        throw Error(ErrorCode::unusable, place, "there is a time column, but no channel beside it",
                    "export the capture with its channels");
    if (!table.time_column) settle_rate(lines, fit, times.index, interval, rate_hz, place, table);
    return table;
}

}  // namespace evenstroke::reading
