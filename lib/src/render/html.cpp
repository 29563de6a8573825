#include "html.hpp"

#include <fmt/core.h>

#include "render/text.hpp"

namespace evenstroke::render {

namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";  // U+FFFD

/// Bytes of the UTF-8 character at the front of `text`; 0 when they are none, or one that XML 1.0 section 2.2
/// does not allow.
std::size_t character_bytes(std::string_view text) {
    const auto byte = [text](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    const unsigned lead = byte(0);
    if (lead < 0x80) return 1;
    const std::size_t bytes = lead < 0xC2 ? 0 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : lead < 0xF5 ? 4 : 0;
    if (bytes == 0 || text.size() < bytes) return 0;
    char32_t code = lead & (0x7FU >> bytes);
    for (std::size_t i = 1; i < bytes; ++i) {
        if ((byte(i) & 0xC0U) != 0x80) return 0;
        code = (code << 6) | (byte(i) & 0x3FU);
    }
    const char32_t least = bytes == 2 ? 0x80 : bytes == 3 ? 0x800 : 0x10000;
    const bool surrogate = code >= 0xD800 && code < 0xE000;
    return code < least || code > 0x10FFFF || surrogate || code == 0xFFFE || code == 0xFFFF ? 0 : bytes;
}

std::string_view entity(char c) {
    switch (c) {
        case '&':
            return "&amp;";
        case '<':
            return "&lt;";
        case '>':
            return "&gt;";
        case '"':
            return "&quot;";
        case '\'':
            return "&#39;";
        default:
            return {};
    }
}

}  // namespace

std::string escaped(std::string_view text) {
    const std::string safe = printable(text);
    std::string out;
    for (std::string_view rest = safe; !rest.empty();) {
        const std::size_t bytes = character_bytes(rest);
        const std::string_view written = entity(rest.front());
        out += bytes == 0 ? replacement : written.empty() ? rest.substr(0, bytes) : written;
        rest.remove_prefix(bytes == 0 ? 1 : bytes);
    }
    return out;
}

std::string element(std::string_view name, std::string_view content, std::string_view attributes) {
    return fmt::format("<{0}{1}{2}>{3}</{0}>\n", name, attributes.empty() ? "" : " ", attributes, content);
}

std::string listed(std::string_view title, std::string_view kind, const std::vector<std::string>& lines,
                   std::string_view attributes) {
    if (lines.empty()) return {};
    std::string items = "\n";
    for (const auto& line : lines) items += element("li", escaped(line));
    return element("section", "\n" + element("h2", escaped(title)) + element(kind, items, attributes));
}

}  // namespace evenstroke::render
