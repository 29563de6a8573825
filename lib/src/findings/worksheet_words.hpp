// The words of a worksheet. Each throws BadEntry for a word that is not known.
#pragma once

#include <string_view>
#include <vector>

#include "evenstroke/worksheet.hpp"

namespace evenstroke::findings {

[[nodiscard]] std::vector<AirPath> air_paths(std::string_view text);
[[nodiscard]] Fuel fuel_word(std::string_view text);
[[nodiscard]] Needle needle_word(std::string_view text);
[[nodiscard]] OilGauge oil_gauge_word(std::string_view text);
[[nodiscard]] bool yes_no(std::string_view text);
/// "1-3-5/2-4-6": rows of cylinders as they stand in the block. No cylinder stands twice.
[[nodiscard]] std::vector<std::vector<int>> block_rows(std::string_view text);

}  // namespace evenstroke::findings
