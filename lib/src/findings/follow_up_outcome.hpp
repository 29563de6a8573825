// The outcome of a follow-up and its one sentence.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/followup.hpp"

namespace evenstroke::findings {

/// Rivals that still stand.
[[nodiscard]] Causes standing(const std::vector<Rival>& rivals);

/// From findings and diagnoses.
[[nodiscard]] FollowUpOutcome outcome_of(const Evidence& evidence, const FollowUp& result);
/// Its one sentence, from outcome, findings and diagnoses.
void set_headline(FollowUp& result);

}  // namespace evenstroke::findings
