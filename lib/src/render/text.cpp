#include "text.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

namespace evenstroke::render {

namespace {

/// The larger blocks of code points that terminals draw two columns wide (Unicode, EastAsianWidth.txt, W and
/// F).
constexpr std::pair<char32_t, char32_t> wide[] = {
    {0x1100, 0x115F},   {0x2E80, 0x303E},   {0x3041, 0x4DBF},   {0x4E00, 0xA4CF},  {0xA960, 0xA97C},
    {0xAC00, 0xD7A3},   {0xF900, 0xFAFF},   {0xFE30, 0xFE6B},   {0xFF01, 0xFF60},  {0xFFE0, 0xFFE6},
    {0x1F300, 0x1F64F}, {0x1F680, 0x1F6FC}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD}};

struct Character {
    std::size_t columns = 1;
    std::size_t bytes = 1;
};

/// The character at `at`, which moves past it. Bytes that are no UTF-8 go with the one before, as if they
/// were.
Character next_character(std::string_view text, std::size_t& at) {
    const auto lead = static_cast<unsigned char>(text[at]);
    const std::size_t begin = at++;
    char32_t code = lead < 0xE0 ? lead & 0x1FU : lead < 0xF0 ? lead & 0x0FU : lead & 0x07U;
    if (lead < 0x80) code = lead;
    for (; at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80; ++at)
        code = (code << 6) | (static_cast<unsigned char>(text[at]) & 0x3FU);
    const bool is_wide = std::any_of(std::begin(wide), std::end(wide), [code](const auto& block) {
        return code >= block.first && code <= block.second;
    });
    return {is_wide ? 2U : 1U, at - begin};
}

/// How many bytes of `text` fill at most `columns`: one character at least.
std::size_t bytes_of(std::string_view text, std::size_t columns) {
    std::size_t used = 0;
    std::size_t bytes = 0;
    for (std::size_t at = 0; at < text.size();) {
        const Character one = next_character(text, at);
        used += one.columns;
        if (bytes > 0 && used > columns) break;
        bytes += one.bytes;
    }
    return bytes;
}

}  // namespace

int usable_columns(int wanted) {
    return std::clamp(wanted, least_columns, most_columns);
}

std::string wrap(std::string_view text, int columns, std::string_view lead) {
    const std::string indent(text_columns(lead), ' ');
    std::string out;
    std::string line(lead);
    bool line_has_word = false;
    const auto all = static_cast<std::size_t>(columns);
    const std::size_t room = indent.size() < all ? all - indent.size() : 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t blank = std::min(text.find_first_of(" \n", at), text.size());
        std::string_view word = text.substr(at, blank - at);
        const bool forced = blank < text.size() && text[blank] == '\n';
        if (!word.empty()) {
            if (line_has_word && text_columns(line) + 1 + text_columns(word) > all) {
                out += line + '\n';
                line = indent;
                line_has_word = false;
            }
            if (line_has_word) line += ' ';
            while (text_columns(line) + text_columns(word) > all && room > 0) {
                const std::size_t bytes = bytes_of(word, room);
                out += line + std::string(word.substr(0, bytes)) + '\n';
                line = indent;
                word.remove_prefix(bytes);
            }
            line += word;
            line_has_word = true;
        }
        if (forced) {
            out += line + '\n';
            line = indent;
            line_has_word = false;
        }
        at = blank + 1;
    }
    return out + line + '\n';
}

std::string pad_right(std::string_view text, std::size_t columns) {
    const std::size_t used = text_columns(text);
    return std::string(text) + std::string(used < columns ? columns - used : 0, ' ');
}

std::string pad_left(std::string_view text, std::size_t columns) {
    const std::size_t used = text_columns(text);
    return std::string(used < columns ? columns - used : 0, ' ') + std::string(text);
}

std::string bar(std::optional<double> value_pct, std::optional<double> low_pct,
                std::optional<double> high_pct, int cells) {
    const auto cells_to = [cells](double pct) {
        return static_cast<std::size_t>(std::lround(std::clamp(pct, 0.0, 100.0) / 100 * cells));
    };
    std::string text(static_cast<std::size_t>(cells), ' ');
    if (!value_pct || !std::isfinite(*value_pct)) return text;
    const auto end_or_value = [&](std::optional<double> end) {
        return end && std::isfinite(*end) ? *end : *value_pct;
    };
    const std::size_t sure = cells_to(end_or_value(low_pct));
    const std::size_t reach = std::max(sure, cells_to(end_or_value(high_pct)));
    std::fill_n(text.begin(), sure, '#');
    std::fill_n(text.begin() + static_cast<std::ptrdiff_t>(sure), reach - sure, '-');
    return text;
}

std::string rate_words(double rate_hz) {
    if (rate_hz >= 1e6) return fmt::format("{:.4g} MHz", rate_hz / 1e6);
    if (rate_hz >= 1e3) return fmt::format("{:.4g} kHz", rate_hz / 1e3);
    return fmt::format("{:.4g} Hz", rate_hz);
}

}  // namespace evenstroke::render

namespace evenstroke {

std::string printable(std::string_view text) {
    std::string safe(text);
    std::replace_if(
        safe.begin(), safe.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; }, '?');
    // C1 controls (U+0080 to U+009F) are C2 80 to C2 9F in UTF-8, and some terminals obey them.
    for (std::size_t i = 0; i + 1 < safe.size(); ++i) {
        const auto second = static_cast<unsigned char>(safe[i + 1]);
        if (static_cast<unsigned char>(safe[i]) == 0xC2 && second >= 0x80 && second < 0xA0)
            safe.replace(i, 2, "?");
    }
    return safe;
}

std::string sentence(std::string_view text) {
    std::string out(text);
    if (out.empty()) return out;
    if (out.front() >= 'a' && out.front() <= 'z') out.front() = static_cast<char>(out.front() - 'a' + 'A');
    if (std::string_view(".?!:").find(out.back()) == std::string_view::npos) out += '.';
    return out;
}

std::size_t text_columns(std::string_view text) {
    std::size_t columns = 0;
    for (std::size_t at = 0; at < text.size();) columns += render::next_character(text, at).columns;
    return columns;
}

}  // namespace evenstroke
