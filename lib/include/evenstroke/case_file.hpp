// A case: one JSON that gathers an engine's results over time. Entries are only ever added.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "evenstroke/error.hpp"

namespace evenstroke {

/// The text of the case `existing` (empty: a new case) with each of `documents` (JSON texts) added as an
/// entry {"saved": saved_at, "document": ...}. Earlier entries, and fields that are not known here, stay.
/// Throws Error{malformed} with `name` when `existing` is no case: damaged, or another program's.
[[nodiscard]] std::string add_to_case(std::string_view existing, const std::string& name,
                                      std::span<const std::string> documents, const std::string& saved_at);

}  // namespace evenstroke
