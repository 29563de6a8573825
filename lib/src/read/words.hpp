// Lists of words that titles and keys are held against. Private.
#pragma once

#include <algorithm>
#include <string>

namespace evenstroke::reading {

/// Whether one of `words` is `text`.
template <typename Words>
[[nodiscard]] bool any_equal(const Words& words, const std::string& text) {
    return std::any_of(words.begin(), words.end(), [&](const char* word) { return text == word; });
}

}  // namespace evenstroke::reading
