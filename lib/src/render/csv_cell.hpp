// Cells of RFC 4180 text.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace evenstroke::render {

/// Quoted when it holds a comma, a quote or a line end; quotes are doubled.
[[nodiscard]] std::string cell(std::string_view text);
/// With `decimals` after the point; empty when not known or not finite.
[[nodiscard]] std::string cell(std::optional<double> value, int decimals);
/// A crank angle of any number of cycles as 0.00 to 719.99; what rounds to a whole cycle is 0.00, not 720.00.
/// Empty when not finite.
[[nodiscard]] std::string cycle_angle_cell(double total_deg);
/// The unit as the end of a column's name: "_a", "_v", "_rpm"; "_recorded" when the recording does not say.
[[nodiscard]] std::string unit_suffix(std::string_view unit);

}  // namespace evenstroke::render
