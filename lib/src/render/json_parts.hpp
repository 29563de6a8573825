// What the JSON documents share. Every number goes through `number`, so that NaN and infinity become null.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/error.hpp"
#include "render/decimals.hpp"

namespace evenstroke::render {

using Json = nlohmann::ordered_json;

/// Rounded; null when not known or not finite.
[[nodiscard]] Json number(std::optional<double> value, int decimals);
/// Null when empty.
[[nodiscard]] Json text_or_null(const std::string& text);
/// Bytes that are not UTF-8 (a path, a channel name in another encoding) are replaced, not refused.
[[nodiscard]] std::string dump(const Json& document, int indent);
/// The fields that begin every document.
[[nodiscard]] Json head(const char* command);
[[nodiscard]] Json notices_json(const std::vector<Notice>& notices);

}  // namespace evenstroke::render
