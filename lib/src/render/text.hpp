// Laying out text for a terminal: wrapping, columns, bars. Plain ASCII of its own; what a file wrote is kept.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "evenstroke/terminal_text.hpp"

namespace evenstroke::render {

inline constexpr int least_columns = 40;  ///< below this a line a cylinder no longer fits
inline constexpr int most_columns = 100;  ///< longer lines are hard to read

/// Columns to lay out for: `wanted` kept within least_columns and most_columns.
[[nodiscard]] int usable_columns(int wanted);

/// `text` broken at blanks into lines of `columns`, the first after `lead`, the others after as many blanks;
/// ends in a newline. A word longer than a line is broken.
[[nodiscard]] std::string wrap(std::string_view text, int columns, std::string_view lead = "");

/// `text` padded with blanks to `columns`; longer text is kept.
[[nodiscard]] std::string pad_right(std::string_view text, std::size_t columns);
[[nodiscard]] std::string pad_left(std::string_view text, std::size_t columns);

/// A bar from 0 to 100 % in `cells`: '#' up to the value, or with an interval '#' up to its low end and '-'
/// on to its high end. A blank bar when nothing is known.
[[nodiscard]] std::string bar(std::optional<double> value_pct, std::optional<double> low_pct,
                              std::optional<double> high_pct, int cells);

/// A rate in words: "20 kHz", "512 Hz".
[[nodiscard]] std::string rate_words(double rate_hz);

}  // namespace evenstroke::render
