// What stands above the numbers: names and units.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "read/cells.hpp"

namespace evenstroke::reading {

/// A column's name and unit as written; either may be empty.
struct ColumnTitle {
    std::string name;
    std::string unit;
};

/// "Clamp (A)", "Time [ms]", "Clamp / A", "time_s" into name and unit. What stands in brackets is a unit
/// only when it is a known one or the brackets are square.
[[nodiscard]] ColumnTitle split_title(const std::string& title);

/// The cells of a header record, joined where blanks inside a title split it.
[[nodiscard]] std::vector<std::string> header_cells(std::string_view record, char delimiter);

/// Every cell is empty or a known unit, and at least one is a unit.
[[nodiscard]] bool is_unit_row(const std::vector<std::string>& cells);

/// How surely a column is the time: 0 when its unit is another's or nothing says so; a word that also names
/// other things ("t", "x", "date"), a unit of time, a word for time ("Time", "Zeit", "Time 2"), and that with
/// its unit rank ever higher.
[[nodiscard]] int time_rank(const ColumnTitle& title);
/// The rank from which on a title says time by a word of its own.
inline constexpr int time_word_rank = 4;
inline constexpr int weak_time_rank = 1;  ///< of "t", "x" or "date" alone
/// What stands in the brackets behind a word for time and is no unit that is known; else empty.
[[nodiscard]] std::string unknown_time_unit(const ColumnTitle& title);
/// "Time", "t", "Zeit", "x-axis" …: the words by which a time column is known.
[[nodiscard]] bool names_time(const std::string& name);
/// "Sample", "Index", "No.", "#": a running number.
[[nodiscard]] bool names_index(const std::string& name);

/// Valid UTF-8: as it is, or taken for Latin-1 when it is not; control characters become blanks.
[[nodiscard]] std::string to_utf8(std::string_view text);

}  // namespace evenstroke::reading
