// What the terminal can show.
#pragma once

#include <string>
#include <string_view>

namespace evenstroke {
struct TextStyle;
}

namespace evenstroke::cli {

/// Columns from COLUMNS, else from the terminal behind `descriptor`, else 80.
[[nodiscard]] int terminal_columns(int descriptor);

/// Style (of evenstroke/render.hpp) for text on standard output: emphasis only on a terminal, never with
/// NO_COLOR or TERM=dumb.
[[nodiscard]] TextStyle output_style();

/// `text` broken at blanks into lines of `columns`, later lines after `indent` blanks; no line end at the
/// end. A longer word stays whole: paths are copied from messages.
[[nodiscard]] std::string wrap(std::string_view text, int columns, int indent);

}  // namespace evenstroke::cli
