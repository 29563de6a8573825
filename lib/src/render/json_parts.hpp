// What the JSON documents share. Every number goes through `number`, so that NaN and infinity become null.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/error.hpp"

namespace evenstroke::render {

using Json = nlohmann::ordered_json;

// Decimals kept: finer than what a recording can tell, coarse enough to read and compare.
inline constexpr int pct_decimals = 1;
inline constexpr int time_decimals = 6;
inline constexpr int current_decimals = 1;
inline constexpr int voltage_decimals = 3;
inline constexpr int speed_decimals = 2;
inline constexpr int angle_decimals = 2;
inline constexpr int pressure_decimals = 1;  ///< kPa
inline constexpr int statistic_decimals = 4;
inline constexpr int free_decimals = 6;  ///< recorded units

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
