// The parts of a summary that every judgement has.
#pragma once

#include <string>
#include <string_view>

#include "evenstroke/findings.hpp"
#include "page.hpp"

namespace evenstroke::render {

/// The outcome in capitals; "NO VERDICT" for "inconclusive".
[[nodiscard]] std::string verdict_word(std::string_view outcome);
/// The sentence that stands beside that word, without the words that it says already.
[[nodiscard]] std::string_view verdict_said(const Judgement& judgement);

/// Under their own title, numbered; nothing where there are none.
void test_lines(Page& page, const Judgement& judgement);
/// Under `title`; nothing where there are none.
void caution_lines(Page& page, const std::string& title, const Judgement& judgement);

}  // namespace evenstroke::render
