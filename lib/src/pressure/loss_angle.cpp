#include "loss_angle.hpp"

namespace evenstroke::pressure {

double peak_angle_rad(const Geometry& g, const Losses& losses) {
    // V'(peak) = (gamma - 1) Q' / (gamma p) + V m'/m, and V' = A a (1 + a / l) angle near TDC.
    const double crank_m = g.stroke_m / 2;
    const double clearance_m3 = volume_m3(g, 0);
    const double piston_m2 = pi / 4 * g.bore_m * g.bore_m;
    const double wanted_m3_per_rad =
        (losses.gamma - 1) * losses.heat_j_per_rad / (losses.gamma * losses.peak_pa) +
        clearance_m3 * losses.leak_per_rad;
    return wanted_m3_per_rad / (piston_m2 * crank_m * (1 + crank_m / g.rod_m));
}

}  // namespace evenstroke::pressure
