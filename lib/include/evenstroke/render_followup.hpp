// From follow-ups and comparisons to text. Nothing here writes a file.
#pragma once

#include <string>

#include "evenstroke/followup.hpp"
#include "evenstroke/render.hpp"

namespace evenstroke {

/// The outcome first, then findings with their evidence, conflicts, what is left, next tests, cautions.
[[nodiscard]] std::string followup_text(const Evidence& evidence, const FollowUp& result,
                                        const TextStyle& style = {});
/// The `followup` document of docs/followup.schema.json; `worksheet` is its path.
[[nodiscard]] std::string followup_json(const std::string& worksheet, const Evidence& evidence,
                                        const FollowUp& result);

}  // namespace evenstroke
