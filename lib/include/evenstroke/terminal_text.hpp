// What files and users wrote, made fit to be shown on a terminal.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace evenstroke {

/// Safe to show: control characters, which could command a terminal, become '?'.
[[nodiscard]] std::string printable(std::string_view text);

/// A sentence of its own: an ASCII first letter in upper case, a full stop where no mark ends it.
[[nodiscard]] std::string sentence(std::string_view text);

/// Columns that UTF-8 text takes: two for a wide character (Chinese, Japanese, Korean, emoji), one for any
/// other.
[[nodiscard]] std::size_t text_columns(std::string_view text);

}  // namespace evenstroke
