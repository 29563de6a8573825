// Which positions a mark that comes every 360 degrees cannot tell apart.
#pragma once

#include <cstddef>
#include <optional>

#include "evenstroke/engine.hpp"

namespace evenstroke::angle {

/// The position that fires 360 degrees after `position`, if the whole layout repeats after 360 degrees.
[[nodiscard]] std::optional<std::size_t> half_cycle_on(const EngineLayout& layout, std::size_t position);

}  // namespace evenstroke::angle
