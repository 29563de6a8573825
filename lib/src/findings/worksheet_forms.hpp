// The two forms of a worksheet.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "evenstroke/error.hpp"
#include "evenstroke/worksheet.hpp"

namespace evenstroke::findings {

/// A table: one row a quantity (`quantity,unit,engine,1,2,3,4`), separated by commas, semicolons or tabs;
/// lines that begin with # are remarks. Throws Error{malformed}.
[[nodiscard]] Worksheet parse_csv_form(std::string_view text, const std::string& name);
/// {"worksheet": 1, "engine": {"oil_idle": "20 psi"}, "cylinders": [{"cylinder": 1, "dry": "150 psi"}]}.
/// Throws Error{malformed}.
[[nodiscard]] Worksheet parse_json_form(std::string_view text, const std::string& name);

[[nodiscard]] std::string csv_template(std::span<const int> cylinders);
[[nodiscard]] std::string json_template(std::span<const int> cylinders);

}  // namespace evenstroke::findings
