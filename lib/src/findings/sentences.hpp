// The forms that a text takes in a sentence, and the sentence of a judgement without a verdict.
#pragma once

#include <string>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

/// The text with its first letter in upper case.
[[nodiscard]] std::string capitalised(std::string text);
/// The text as it goes on after a colon: its first letter in lower case, unless an abbreviation begins there.
[[nodiscard]] std::string clause(std::string text);
/// The text with one mark at its end; some end in a question or a full stop of their own.
[[nodiscard]] std::string ended(std::string text);

/// Common evidence is missing that could still be had.
inline constexpr const char* no_verdict_yet = "No verdict yet: ";

/// Gives the judgement no verdict, for this reason: a sentence as it goes on after `opening`.
void leave_open(Judgement& judgement, std::string reason, const char* opening = "No verdict: ");

}  // namespace evenstroke::findings
