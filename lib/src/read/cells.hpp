// One record into cells, one cell into a number, a gap or an over-range mark.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenstroke::reading {

/// How a text file separates cells and writes decimals.
struct Dialect {
    char delimiter = ',';  ///< ',' ';' '\t' '|', or ' ' for runs of blanks and tabs
    char decimal = '.';    ///< '.' or ','
};

/// How a cell without a number travels among floats: a gap is NaN, over-range is an infinity; over-range of
/// unknown sign is this, which no finite sample may be.
inline constexpr float over_range_unsigned = std::numeric_limits<float>::max();
/// Neither a gap nor over-range.
[[nodiscard]] inline bool is_number(float sample) {
    return std::abs(sample) < over_range_unsigned;
}

enum class CellKind { number, gap, over_range, text };

struct Cell {
    CellKind kind = CellKind::text;
    double value = 0;         ///< number; or the sign of an over-range: +1, -1, 0 when not said
    bool level_word = false;  ///< the number 0 or 1 written as a level: "LOW", "true"
};

/// Without blanks (space, tab, no-break space) at both ends.
[[nodiscard]] std::string_view trim(std::string_view text);
/// Trimmed, one pair of enclosing quotes removed, trimmed again; doubled quotes stay.
[[nodiscard]] std::string_view strip_quotes(std::string_view cell);
/// As RFC 4180 means it: enclosing quotes removed, doubled quotes single.
[[nodiscard]] std::string unquote(std::string_view cell);

/// Splits at the delimiter outside quotes. Blanks around cells are not removed, except that ' ' splits at
/// runs of them. An empty record has no cells.
void split(std::string_view record, char delimiter, std::vector<std::string_view>& cells);

/// Reads one cell, quoted or not.
[[nodiscard]] Cell parse_cell(std::string_view cell, char decimal);
/// A number with, perhaps, a unit behind it: "0.0001", "10 kHz".
struct Measure {
    Cell number;
    std::string_view unit;  ///< the text behind, trimmed
};
/// Empty when the cell does not begin with a number.
[[nodiscard]] std::optional<Measure> parse_measure(std::string_view cell, char decimal);
/// A cell as a sample: number, NaN, infinity or over_range_unsigned; empty when it is text.
[[nodiscard]] std::optional<float> to_sample(const Cell& cell);

/// A moment; day and second apart, since together they would cost microseconds of precision.
struct DateTime {
    std::optional<int> day;  ///< from 1970-01-01; empty when only the time of day is written
    double second = 0;       ///< of that day; a zone is taken off, so that it may lie outside
};

/// Reads a date and time ("2026-03-02T10:15:00.25", "20260302T101500.25", "02.03.2026 10:15:00", "03/02/2026
/// 10:15:00 AM") or a time of day ("10:15:00.25", "10:15:00:250", "15:00.25" in minutes); with a
/// zone behind it or none.
[[nodiscard]] std::optional<DateTime> parse_date_time(std::string_view cell);

[[nodiscard]] constexpr bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
/// At least one digit and nothing else.
[[nodiscard]] bool all_digits(std::string_view text);
/// True when the text is one of the words.
template <typename Words>
[[nodiscard]] bool any_equal(const Words& words, std::string_view text) {
    return std::any_of(words.begin(), words.end(), [&](const char* word) { return text == word; });
}

/// Lower case (ASCII only).
[[nodiscard]] std::string lower(std::string_view text);

}  // namespace evenstroke::reading
