// A motored compression by the first law with constant heat and relative leak, integrated here and nowhere in
// the library: dp/da = -gamma p V'/V + (gamma - 1) Q'/V + gamma p m'/m.
#pragma once

#include <cmath>
#include <vector>

#include "evenstroke/engine.hpp"
#include "evenstroke/recording.hpp"

namespace test_support {

struct Peak {
    double angle_rad = 0;
    double pa = 0;
};

/// Pressure from -60 to 140 degrees after TDC, on an isentrope from 1 bar at the bottom before that.
struct FirstLaw {
    evenstroke::Geometry geometry;
    double heat_j_per_rad = 0;
    double leak_per_rad = 0;
    double gamma = 1.4;
    std::vector<double> pa;  ///< one every `step_rad` from `first_rad` on

    static constexpr double first_rad = -60 * evenstroke::pi / 180;
    static constexpr double step_rad = 0.05 * evenstroke::pi / 180;
    static constexpr int steps = 4000;
    static constexpr double start_pa = 1e5;

    [[nodiscard]] double slope(double a, double p) const {
        const double v = volume_m3(geometry, a);
        return -gamma * p * volume_slope_m3_per_rad(geometry, a) / v + (gamma - 1) * heat_j_per_rad / v +
               gamma * p * leak_per_rad;
    }
    [[nodiscard]] double isentrope_pa(double a) const {
        return start_pa * std::pow(volume_m3(geometry, evenstroke::pi) / volume_m3(geometry, a), gamma);
    }
    /// Cubic between steps; open to `start_pa` outside of the bottoms.
    [[nodiscard]] double at(double a) const {
        if (a < first_rad) return a < -evenstroke::pi ? start_pa : isentrope_pa(a);
        const double x = (a - first_rad) / step_rad;
        if (x >= steps) return start_pa;
        const auto i = static_cast<std::size_t>(x);
        const double u = x - static_cast<double>(i), v = 1 - u;
        const double a0 = first_rad + static_cast<double>(i) * step_rad;
        const double s0 = slope(a0, pa[i]), s1 = slope(a0 + step_rad, pa[i + 1]);
        return v * v * (1 + 2 * u) * pa[i] + u * u * (3 - 2 * u) * pa[i + 1] +
               step_rad * u * v * (v * s0 - u * s1);
    }
    /// Where the slope passes through 0, by halving.
    [[nodiscard]] Peak peak() const {
        double low = -0.3, high = 0.3;
        for (int i = 0; i < 60; ++i) {
            const double middle = (low + high) / 2;
            (slope(middle, at(middle)) > 0 ? low : high) = middle;
        }
        return {low, at(low)};
    }
};

inline FirstLaw first_law(const evenstroke::Geometry& geometry, double heat_j_per_rad, double leak_per_rad,
                          double gamma) {
    FirstLaw f{geometry, heat_j_per_rad, leak_per_rad, gamma, {}};
    double p = f.isentrope_pa(FirstLaw::first_rad);
    const double h = FirstLaw::step_rad;
    for (int i = 0; i <= FirstLaw::steps; ++i) {
        f.pa.push_back(p);
        const double a = FirstLaw::first_rad + i * h;
        const double k1 = f.slope(a, p), k2 = f.slope(a + h / 2, p + h / 2 * k1);
        const double k3 = f.slope(a + h / 2, p + h / 2 * k2), k4 = f.slope(a + h, p + h * k3);
        p += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
    }
    return f;
}

}  // namespace test_support
