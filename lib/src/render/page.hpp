// A page of terminal text as it grows.
#pragma once

#include <string>
#include <string_view>

#include "render/text.hpp"

namespace evenstroke::render {

struct Page {
    int columns;
    bool color;
    std::string text;

    void paragraph(std::string_view body, std::string_view lead = "") { text += wrap(body, columns, lead); }
    void blank() { text += '\n'; }
    [[nodiscard]] std::string strong(const std::string& words) const {
        return color ? "\x1b[1m" + words + "\x1b[0m" : words;
    }
    /// A title after a blank line.
    void section(const std::string& title) {
        blank();
        text += strong(title) + '\n';
    }
    /// The verdict in capitals and its sentence; emphasis does not count as width.
    void verdict(const std::string& word, std::string_view said) {
        std::string body = wrap(sentence(printable(said)), columns, word + "  ");
        body.replace(0, word.size(), strong(word));
        text += body;
    }
};

}  // namespace evenstroke::render
