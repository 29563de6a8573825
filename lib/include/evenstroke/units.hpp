// Units as people write them in scope exports, and their factors to the unit used inside.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace evenstroke {

/// What a unit measures.
enum class Dimension { time, current, voltage, pressure, length, speed, angle, temperature, ratio };

/// A unit of measurement: value_in_base = recorded * factor.
/// Bases: s, A, V, kPa, m, rpm, deg, K (scale only), 1.
struct Unit {
    std::string symbol;  ///< canonical spelling: "ms", "µs", "kPa"
    Dimension dimension;
    double factor;  ///< exact where the definition is exact; source: NIST SP 811 (2008), App. B.8
};

/// The unit written as `text` ("A", "amps", "mV", "us", "µs", "PSI"); empty when it is not one that is known.
/// Case matters only where SI needs it (m against M); blanks and surrounding () or [] are ignored.
[[nodiscard]] std::optional<Unit> find_unit(std::string_view text);

}  // namespace evenstroke
