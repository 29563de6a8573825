// Factors of pressure units to kPa, for the table of units and for limits that were printed in other units.
#pragma once

namespace evenstroke {

// NIST SP 811 (2008), App. B.8; psi by its exact chain 0.45359237 * 9.80665 / 0.0254^2 Pa.
inline constexpr double kpa_per_psi = 6.894757293168361;
inline constexpr double kpa_per_mmhg = 0.133322387415;  // conventional
/// Conventional, 3.386389: not that of 32 °F or 60 °F.
inline constexpr double kpa_per_inhg = 25.4 * kpa_per_mmhg;

/// Common practice, no published source: an engine does not run on a compression that reads less.
inline constexpr double least_psi = 90;

}  // namespace evenstroke
