// Decimals that JSON and CSV keep: finer than what a recording can tell, coarse enough to read and compare.
#pragma once

#include <cmath>
#include <optional>

namespace evenstroke::render {

inline constexpr int pct_decimals = 1;
inline constexpr int time_decimals = 6;
inline constexpr int current_decimals = 1;
/// Of a current so small that its scale is in doubt, three.
[[nodiscard]] inline int decimals_of_current(std::optional<double> amperes) {
    return amperes && std::abs(*amperes) < 10 ? 3 : current_decimals;
}
inline constexpr int voltage_decimals = 3;
inline constexpr int speed_decimals = 2;
inline constexpr int angle_decimals = 2;
inline constexpr int pressure_decimals = 1;  ///< kPa
inline constexpr int statistic_decimals = 4;
inline constexpr int free_decimals = 6;       ///< recorded units
inline constexpr int value_decimals = 4;      ///< recorded units in a table: enough for a 16-bit sample
inline constexpr int trace_kpa_decimals = 2;  ///< of one transducer

}  // namespace evenstroke::render
