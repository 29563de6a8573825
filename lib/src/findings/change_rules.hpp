// What a change means, by what was done between the recordings.
#pragma once

#include "evenstroke/compare.hpp"

namespace evenstroke::findings {

/// Findings and next tests of a comparison whose changes are known.
void judge_changes(Comparison& comparison, const ComparedRecording& first);

/// What else differs between the recordings.
[[nodiscard]] std::vector<Notice> confounders(const ComparedRecording& first,
                                              const ComparedRecording& second);

}  // namespace evenstroke::findings
