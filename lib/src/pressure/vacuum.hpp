// Readings that no gas has.
#pragma once

#include <optional>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// How far the readings fall below vacuum, kPa, with the level `rest_kpa` between strokes taken as ambient;
/// empty where they do not, or by no more than a drifting zero explains.
[[nodiscard]] std::optional<double> below_vacuum_kpa(const Pressure& p, double rest_kpa);

}  // namespace evenstroke::pressure
