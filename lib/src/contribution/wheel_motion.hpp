// Which part of a wheel's crank angle is fitted, and the speed in it. Private to the library.
#pragma once

#include <vector>

#include "evenstroke/angle.hpp"
#include "wheel_model.hpp"

namespace evenstroke::contribution::wheel {

/// The settled part, stretched backwards into the run-up where it is short, without what may be coasting
/// after a release. `angle` holds four teeth at least.
[[nodiscard]] WheelMotion motion_of(const CrankAngle& angle, const Cranking& cranking,
                                    const EngineLayout& layout);

/// Times that the last whole cycles of the settled part took, backwards from its end. Turns would not do:
/// those of most engines hold now these cylinders, now the others.
[[nodiscard]] std::vector<double> cycle_periods_s(const CrankAngle& angle);

}  // namespace evenstroke::contribution::wheel
