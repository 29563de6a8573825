#include "terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <cstring>

#include "evenstroke/render.hpp"
#include "evenstroke/terminal_text.hpp"

namespace evenstroke::cli {

namespace {

constexpr int usual_columns = 80;

bool is_set(const char* variable) {
    const char* value = std::getenv(variable);
    return value != nullptr && *value != '\0';
}

}  // namespace

int terminal_columns(int descriptor) {
    if (is_set("COLUMNS")) {
        const std::string_view text = std::getenv("COLUMNS");
        int columns = 0;
        const auto parsed = std::from_chars(text.data(), text.data() + text.size(), columns);
        if (parsed.ec == std::errc{} && parsed.ptr == text.data() + text.size() && columns > 0)
            return columns;
    }
    winsize size{};
    if (isatty(descriptor) != 0 && ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col;
    return usual_columns;
}

TextStyle output_style() {
    const char* term = std::getenv("TERM");
    const bool plain = is_set("NO_COLOR") || term == nullptr || std::strcmp(term, "dumb") == 0;
    return {.columns = terminal_columns(STDOUT_FILENO), .color = isatty(STDOUT_FILENO) != 0 && !plain};
}

std::string wrap(std::string_view text, int columns, int indent) {
    std::string out;
    std::size_t used = 0;
    while (!text.empty()) {
        const std::size_t blank = std::min(text.find(' '), text.size());
        const std::string_view word = text.substr(0, blank);
        if (!word.empty()) {
            const std::size_t width = text_columns(word);
            if (used > 0 && used + 1 + width > static_cast<std::size_t>(columns)) {
                out += '\n' + std::string(static_cast<std::size_t>(indent), ' ');
                used = static_cast<std::size_t>(indent);
            } else if (used > 0) {
                out += ' ';
                ++used;
            }
            out += word;
            used += width;
        }
        text.remove_prefix(std::min(blank + 1, text.size()));
    }
    return out;
}

}  // namespace evenstroke::cli
