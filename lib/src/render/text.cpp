#include "text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenstroke::render {

int usable_columns(int wanted) {
    return std::clamp(wanted, least_columns, most_columns);
}

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

std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](unsigned char c) { return (c & 0xC0) != 0x80; }));
}

std::string wrap(std::string_view text, int columns, std::string_view lead) {
    const std::string indent(width(lead), ' ');
    std::string out;
    std::string line(lead);
    bool line_has_word = false;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t blank = std::min(text.find_first_of(" \n", at), text.size());
        const std::string_view word = text.substr(at, blank - at);
        const bool forced = blank < text.size() && text[blank] == '\n';
        if (!word.empty()) {
            if (line_has_word && width(line) + 1 + width(word) > static_cast<std::size_t>(columns)) {
                out += line + '\n';
                line = indent;
                line_has_word = false;
            }
            if (line_has_word) line += ' ';
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
    const std::size_t used = width(text);
    return std::string(text) + std::string(used < columns ? columns - used : 0, ' ');
}

std::string pad_left(std::string_view text, std::size_t columns) {
    const std::size_t used = width(text);
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
