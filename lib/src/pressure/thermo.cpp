#include "thermo.hpp"

#include <algorithm>
#include <cmath>

#include "cycle.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

constexpr double degrees_of_freedom_share = 0.1;  ///< neighbouring degrees err alike

double volume(const Pressure& p, double deg) {
    return volume_m3(p.geometry, deg * pi / 180);
}

}  // namespace

std::optional<Figure> exponent(const Pressure& p, double first_deg, double last_deg, double offset_sd_kpa) {
    const auto slope = [&](double shift_kpa) -> std::optional<signal::Line> {
        std::vector<double> x, y;
        for (int a = static_cast<int>(first_deg); a <= static_cast<int>(last_deg); ++a) {
            const auto v = mean_at(p, a);
            if (!v || *v + shift_kpa <= 0) continue;
            x.push_back(std::log(volume(p, a)));
            y.push_back(std::log(*v + shift_kpa));
        }
        if (x.size() < 10) return std::nullopt;
        return signal::fit_line(x, y);
    };
    const auto middle = slope(0), high = slope(offset_sd_kpa);
    if (!middle || !high) return std::nullopt;
    const double sd =
        std::hypot(middle->slope_se / std::sqrt(degrees_of_freedom_share), high->slope - middle->slope);
    const double n = -middle->slope;
    return Figure{n, n - signal::normal_95 * sd, n + signal::normal_95 * sd};
}

}  // namespace evenstroke::pressure
