// How fast a starter turns an engine with its plugs in (common practice, no published source). Private.
#pragma once

namespace evenstroke {

/// Speeds outside these are unusual …
inline constexpr double usual_least_rpm = 100, usual_most_rpm = 350;
/// … and beyond this no starter turns even a warm engine: it runs, or is driven.
inline constexpr double fastest_cranking_rpm = 450;

}  // namespace evenstroke
