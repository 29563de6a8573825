#include "cycle.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace evenstroke::pressure {

namespace {

constexpr double half_cycle_deg = cycle_deg / 2;
/// Knots between two pulses, degrees apart.
constexpr double gap_step_deg = 6;

/// Cubic between two (time, angle, speed in deg/s); `u` from 0 to 1.
double hermite(double t0, double a0, double w0, double t1, double a1, double w1, double u) {
    const double v = 1 - u;
    const double h = t1 - t0;
    return v * v * (1 + 2 * u) * a0 + u * u * (3 - 2 * u) * a1 + h * u * v * (v * w0 - u * w1);
}

}  // namespace

void set_angle(const Solution& s, Pressure& p) {
    const double deg = 180 / pi;
    double turn = 0;
    std::optional<std::size_t> before;
    for (std::size_t k = 0; k < s.pulses.size(); ++k) {
        if (!s.pulses[k]) continue;
        const GasCurve& curve = s.curves[k];
        if (before) {
            const double gap = s.pulses[k]->tdc_s - s.pulses[*before]->tdc_s;
            const double usual =
                s.pulses.size() > 1 ? 120 / std::max(1.0, p.speed_rpm ? p.speed_rpm->value : 200) : gap;
            turn += cycle_deg * std::max(1.0, std::round(gap / usual));
            const double t0 = p.knot_s.back(), a0 = p.knot_deg.back();
            const double t1 = curve.time_s.front(), a1 = turn + s.table.angle_rad(0) * deg;
            const int steps = static_cast<int>((a1 - a0) / gap_step_deg);
            for (int i = 1; i < steps && t1 > t0; ++i) {
                const double u = static_cast<double>(i) / steps;
                const double a = hermite(t0, a0, s.curves[*before].speed_rad_s.back() * deg, t1, a1,
                                         curve.speed_rad_s.front() * deg, u);
                if (a <= p.knot_deg.back()) continue;
                p.knot_s.push_back(t0 + u * (t1 - t0));
                p.knot_deg.push_back(a);
            }
        }
        for (std::size_t i = 0; i < curve.time_s.size(); ++i) {
            const double a = turn + s.table.angle_rad(i) * deg;
            if (!p.knot_s.empty() && (curve.time_s[i] <= p.knot_s.back() || a <= p.knot_deg.back())) continue;
            p.knot_s.push_back(curve.time_s[i]);
            p.knot_deg.push_back(a);
        }
        before = k;
    }
}

std::optional<double> angle_at(const Pressure& p, double time_s) {
    if (p.knot_s.size() < 2 || (p.driven_until_s && time_s > *p.driven_until_s)) return std::nullopt;
    const auto extrapolated = [&](std::size_t a, std::size_t b) {
        return p.knot_deg[a] +
               (time_s - p.knot_s[a]) / (p.knot_s[b] - p.knot_s[a]) * (p.knot_deg[b] - p.knot_deg[a]);
    };
    const auto above = static_cast<std::size_t>(std::upper_bound(p.knot_s.begin(), p.knot_s.end(), time_s) -
                                                p.knot_s.begin());
    // The valves' part of the cycle before the first and after the last pulse is worth a straight line.
    if (above == 0) {
        const double a = extrapolated(0, 1);
        return a > p.knot_deg.front() - half_cycle_deg ? std::optional(a) : std::nullopt;
    }
    if (above == p.knot_s.size()) {
        const double a = extrapolated(above - 2, above - 1);
        return a < p.knot_deg.back() + half_cycle_deg ? std::optional(a) : std::nullopt;
    }
    return extrapolated(above - 1, above);
}

void set_mean_cycle(const Solution& s, double offset_kpa, Pressure& p) {
    constexpr auto cells = static_cast<std::size_t>(cycle_deg);
    std::vector<double> sum(cells, 0), count(cells, 0);
    for (const std::size_t k : s.used) {
        const double middle_s = s.pulses[k]->tdc_s;
        const double middle_deg = angle_at(p, middle_s).value_or(0);
        const double reach_s = p.speed_rpm ? 60 / p.speed_rpm->value * 1.15 : 0;
        const auto sample = [&](double time_s) {
            return static_cast<std::size_t>(
                std::clamp((time_s - p.start_s) * p.rate_hz, 0.0, static_cast<double>(p.kpa.size())));
        };
        for (std::size_t i = sample(middle_s - reach_s); i < sample(middle_s + reach_s); ++i) {
            const auto a = angle_at(p, p.time_s(i));
            if (!a) continue;
            const double at = std::floor(*a - middle_deg + half_cycle_deg + 0.5);
            if (at < 0 || at >= static_cast<double>(cells)) continue;
            sum[static_cast<std::size_t>(at)] += static_cast<double>(p.kpa[i]) - offset_kpa;
            count[static_cast<std::size_t>(at)] += 1;
        }
    }
    p.cycle.pressure_kpa.assign(cells, std::numeric_limits<double>::quiet_NaN());
    for (std::size_t i = 0; i < cells; ++i) {
        if (count[i] > 0) p.cycle.pressure_kpa[i] = sum[i] / count[i];
        if (p.geometry_known)
            p.cycle.volume_cm3.push_back(
                1e6 * volume_m3(p.geometry, (static_cast<double>(i) - half_cycle_deg) * pi / 180));
    }
}

}  // namespace evenstroke::pressure
