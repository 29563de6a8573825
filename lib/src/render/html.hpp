// Pieces of a page that is HTML and well-formed XML at once: escaped text, elements, lists.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace evenstroke::render {

/// What a file, a user or the program wrote, as the text of an element or in a quoted attribute: markup
/// characters escaped, control characters '?', bytes and code points that XML forbids U+FFFD.
[[nodiscard]] std::string escaped(std::string_view text);

/// `<name attributes>content</name>` and a line end. `attributes` and `content` are markup.
[[nodiscard]] std::string element(std::string_view name, std::string_view content,
                                  std::string_view attributes = "");

/// A title and a list below it, "ul" or "ol", of plain texts; empty when there is no line.
[[nodiscard]] std::string listed(std::string_view title, std::string_view kind,
                                 const std::vector<std::string>& lines, std::string_view attributes = "");

}  // namespace evenstroke::render
