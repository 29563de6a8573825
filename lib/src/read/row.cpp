#include "read/row.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "evenstroke/error.hpp"
#include "values/words.hpp"

namespace evenstroke::reading {

namespace {

constexpr double seconds_a_day = 86'400;
/// Beyond this a double is no longer a plain float sample.
constexpr double plain_limit = 9e37;

std::string shown(std::string_view cell) {
    constexpr std::size_t most_shown = 40;
    const std::string_view text = trim(cell);
    return fmt::format("\"{}{}\"", to_utf8(text.substr(0, most_shown)), text.size() > most_shown ? "…" : "");
}

/// The seconds of a stamp with its fraction: what follows the second colon, or the only one.
std::string_view printed_seconds(std::string_view stamp) {
    for (int colon = 0; colon < 2; ++colon)
        if (const std::size_t at = stamp.find(':'); at != std::string_view::npos) stamp.remove_prefix(at + 1);
    return stamp.substr(0, stamp.find_first_not_of("0123456789.,:"));
}

}  // namespace

RowParser::RowParser(const Table& table, std::string name)
    : samples(table.value_columns.size()),
      table_(table),
      name_(std::move(name)),
      roles_(table.columns, Role::ignored),
      fast_(table.dialect.decimal == '.' && table.dialect.delimiter != ' ' && !table.time_is_date),
      written_(table.value_columns.size()) {
    if (table.time_column) roles_[*table.time_column] = Role::time;
    for (const std::size_t column : table.value_columns) roles_[column] = Role::value;
}

std::string RowParser::place(const Record& record, std::size_t column) const {
    return name_ + ":" + std::to_string(record.line) + ":" + std::to_string(column + 1);
}

std::string RowParser::column_name(std::size_t column) const {
    const std::string number = "column " + std::to_string(column + 1);
    return table_.titles[column].name.empty() ? number : number + " (" + table_.titles[column].name + ")";
}

bool RowParser::cut_off(const Record& record) {
    if (record.terminated) return false;
    split(record.text, table_.dialect.delimiter, cells_);
    return !cells_.empty() && cells_.size() < table_.columns;
}

/// Plain numbers between delimiters: the common case. False: something else is there, look closely.
bool RowParser::parse_fast(std::string_view text) {
    const char* at = text.data();
    const char* const end = at + text.size();
    std::size_t value_index = 0;
    for (std::size_t column = 0; column < roles_.size(); ++column) {
        while (at < end && *at == ' ') ++at;
        const char* const start = at;
        double number = 0;
        const auto result = std::from_chars(at, end, number);
        if (result.ec != std::errc{} || !(std::abs(number) < plain_limit)) return false;
        at = result.ptr;
        if (roles_[column] == Role::value) {
            samples[value_index++] = static_cast<float>(number);
        } else if (roles_[column] == Role::time) {
            time = number;
            time_text = {start, static_cast<std::size_t>(at - start)};
        }
        while (at < end && *at == ' ') ++at;
        const bool last = column + 1 == roles_.size();
        if (last != (at == end) || (!last && *at != table_.dialect.delimiter)) return false;
        ++at;
    }
    return true;
}

void RowParser::take_time(std::string_view cell, const Record& record, std::size_t column) {
    time_text = strip_quotes(cell);
    if (table_.time_is_date) {
        if (const auto moment = parse_date_time(cell)) {
            if (!first_moment_) first_moment_ = moment;
            if (moment->day.has_value() != first_moment_->day.has_value())
                throw Error(ErrorCode::malformed, place(record, column),
                            fmt::format("the time in {} holds {}, {} a date, unlike the rows before",
                                        column_name(column), shown(cell), moment->day ? "with" : "without"),
                            "write every time alike, with its date or without");
            const double before = time;
            time = moment->second;
            if (moment->day)
                time += (*moment->day - *first_moment_->day) * seconds_a_day;
            else if (const double back = before - time; back > seconds_a_day / 2)
                time += std::round(back / seconds_a_day) * seconds_a_day;  // midnight passed
            time_text = printed_seconds(time_text);
            return;
        }
    } else if (const Cell number = parse_cell(cell, table_.dialect.decimal);
               number.kind == CellKind::number) {
        time = number.value;
        return;
    }
    const std::string what = trim(cell).empty() ? "is empty" : "holds " + shown(cell);
    throw Error(ErrorCode::malformed, place(record, column),
                "the time in " + column_name(column) + " " + what + ", which is not a time",
                "correct or remove this row");
}

/// The cell's number, without the unit that every cell of the column carries.
Cell RowParser::number_in(std::string_view cell, std::size_t column) const {
    const std::string& unit = table_.cell_units[column];
    if (!unit.empty())
        if (const auto measure = parse_measure(cell, table_.dialect.decimal);
            measure && measure->unit == unit)
            return measure->number;
    return parse_cell(cell, table_.dialect.decimal);
}

void RowParser::parse_slow(const Record& record) {
    if (cells_.size() != roles_.size())
        throw Error(ErrorCode::malformed, name_ + ":" + std::to_string(record.line),
                    "this row has " + counted(cells_.size(), "cells") + ", the others " +
                        std::to_string(roles_.size()),
                    "correct or remove this row; a file with two tables must be split");
    std::size_t value_index = 0;
    for (std::size_t column = 0; column < roles_.size(); ++column) {
        if (roles_[column] == Role::time) take_time(cells_[column], record, column);
        if (roles_[column] != Role::value) continue;
        const Cell cell = number_in(cells_[column], column);
        if (Written& written = written_[value_index]; cell.level_word && written.level_place.empty()) {
            written.level_place = place(record, column);
            written.level = shown(cells_[column]);
        }
        const auto sample = to_sample(cell);
        if (!sample)
            throw Error(ErrorCode::malformed, place(record, column),
                        column_name(column) + " holds " + shown(cells_[column]) + ", which is not a number",
                        "correct this cell, or leave it empty for a gap");
        samples[value_index++] = *sample;
    }
}

/// Levels in words hold only among other levels: beside measured values "LOW" is no 0.
void RowParser::refuse_mixed_levels() {
    for (std::size_t i = 0; i < samples.size(); ++i) {
        Written& written = written_[i];
        written.measured = written.measured || (is_number(samples[i]) && samples[i] != 0 && samples[i] != 1);
        if (written.measured && !written.level_place.empty())
            throw Error(ErrorCode::malformed, written.level_place,
                        column_name(table_.value_columns[i]) + " holds " + written.level +
                            ", which is not a number as the others are",
                        "correct this cell, or leave it empty for a gap");
    }
}

bool RowParser::parse(const Record& record) {
    const bool found = parse_row(record);
    if (found) refuse_mixed_levels();
    return found;
}

bool RowParser::parse_row(const Record& record) {
    if (fast_ && parse_fast(record.text)) return true;
    const std::string_view text = trim(record.text);
    if (text.empty() || text.front() == '#') return false;
    split(record.text, table_.dialect.delimiter, cells_);
    parse_slow(record);
    return true;
}

}  // namespace evenstroke::reading
