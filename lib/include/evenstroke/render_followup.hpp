// From follow-ups and comparisons to text. Nothing here writes a file.
#pragma once

#include <string>

#include "evenstroke/compare.hpp"
#include "evenstroke/followup.hpp"
#include "evenstroke/render.hpp"

namespace evenstroke {

/// The outcome first, then findings with their evidence, conflicts, what is left, next tests, cautions.
[[nodiscard]] std::string followup_text(const Evidence& evidence, const FollowUp& result,
                                        const TextStyle& style = {});
/// The `followup` document of docs/followup.schema.json; `worksheet` is its path.
[[nodiscard]] std::string followup_json(const std::string& worksheet, const Evidence& evidence,
                                        const FollowUp& result);

/// Every rule of the table as a row in Markdown, as in docs/diagnosis.md.
[[nodiscard]] std::string rules_text();

/// The outcome, a line a cylinder, the statistics, what else differs, next tests, cautions.
[[nodiscard]] std::string compare_text(const RecordedEngine& first, const RecordedEngine& second,
                                       const Comparison& comparison, const TextStyle& style = {});
/// The `compare` document of docs/compare.schema.json.
[[nodiscard]] std::string compare_json(const RecordedEngine& first, const RecordedEngine& second,
                                       const Comparison& comparison);

}  // namespace evenstroke
