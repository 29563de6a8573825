// Figures that no engine has: the fit that gives them is of something else than this cylinder.
#pragma once

#include <optional>
#include <string>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Why nothing that rests on the fit can be believed: the impossible figure, and what to check. Empty where
/// all figures are such as engines have.
[[nodiscard]] std::optional<std::string> implausible(const Pressure& fitted);

}  // namespace evenstroke::pressure
