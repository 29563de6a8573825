// The loss angle in closed form: how far heat and leak move the peak of a motored compression before TDC.
#pragma once

#include "evenstroke/engine.hpp"

namespace evenstroke::pressure {

/// What the charge loses near TDC, taken as constant there (Tunestål 2011 for the heat).
struct Losses {
    double heat_j_per_rad = 0;  ///< to the charge; negative when the walls cool it
    double leak_per_rad = 0;    ///< (dm/dangle) / m; negative when mass is lost
    double gamma = 1.4;         ///< ratio of specific heats
    double peak_pa = 0;         ///< absolute peak pressure
};

/// Crank angle of the peak after TDC, rad; negative is before TDC. First law at dp/dangle = 0, with V' linear
/// in the angle: to 0.0002 degrees for losses that move the peak by a degree (docs/pressure.md, "Loss
/// angle"). `geometry` needs a compression ratio above 1.
[[nodiscard]] double peak_angle_rad(const Geometry& geometry, const Losses& losses);

}  // namespace evenstroke::pressure
