// The forms that a text takes in a sentence, and the sentence of a judgement without a verdict.
#pragma once

#include <string>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

/// The text with its first letter in upper case.
[[nodiscard]] std::string capitalised(std::string text);
/// The text as a sentence, with one mark at its end; some end in a question or a full stop of their own.
[[nodiscard]] std::string whole_sentence(std::string text);

/// Opens the reason where one more reading would give a verdict.
inline constexpr const char* no_verdict_yet = "No verdict yet: ";

/// Gives the judgement no verdict, for this reason. Stages write theirs as a sentence or as a part of one;
/// here each goes on after `opening` and ends in a mark.
void leave_open(Judgement& judgement, std::string reason, const char* opening = "No verdict: ");

}  // namespace evenstroke::findings
