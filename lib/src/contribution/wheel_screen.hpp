// Why a wheel's speed carries no verdict. Private to the library.
#pragma once

#include <optional>
#include <string>

#include "evenstroke/angle.hpp"
#include "wheel_model.hpp"

namespace evenstroke::contribution::wheel {

/// Why no verdict can come of this angle at all, before anything is fitted.
[[nodiscard]] std::optional<std::string> too_little(const CrankAngle& angle, const EngineLayout& layout);

/// Why no compression was found where there should be some. `told`: TDC was not searched.
[[nodiscard]] std::string nothing_fits(const WheelMotion& motion, const EngineLayout& layout, bool told);

}  // namespace evenstroke::contribution::wheel
