#include "cycle.hpp"
#include "signal/interpolate.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::pressure {

namespace {

constexpr double half_cycle_deg = cycle_deg / 2;
/// Knots between two pulses, degrees apart.
constexpr double gap_step_deg = 6;
/// Cylinders of the engine where nobody says: they slow the crank between this one's compressions.
constexpr int usual_cylinders = 4;
/// Leak of a cylinder that seals, m² per m³ swept: 0.6 mm² in half a litre.
constexpr double sound_leak_share = 1.2e-3;

/// Speed against angle that the other cylinders' compressions give the crank: evenly spaced, and sealing as
/// usual even where this one leaks.
class Neighbours {
  public:
    Neighbours(const Solution& s, int cylinders) : spacing_deg_(cycle_deg / cylinders), table_(s.table) {
        CylinderState sound = s.shared.cylinder;
        sound.leak_m2 = std::min(sound.leak_m2, sound_leak_share * s.table.swept_m3);
        const double weight = 1 / static_cast<double>(s.shared.pulses.size());
        GasCurve curve;
        for (const PulseState& pulse : s.shared.pulses) {
            run(s.table, sound, pulse, curve);
            log_speed_.resize(curve.speed_rad_s.size(), 0);
            for (std::size_t i = 0; i < log_speed_.size(); ++i)
                log_speed_[i] += weight * std::log(curve.speed_rad_s[i]);
        }
    }
    /// ln of the speed in rad/s, `deg` after this cylinder's TDC.
    [[nodiscard]] double log_speed(double deg) const {
        const double from_next = std::remainder(deg, spacing_deg_) * pi / 180;
        const double x = std::clamp((from_next - table_.first_rad) / table_.step_rad, 0.0,
                                    static_cast<double>(log_speed_.size() - 1));
        const auto i = std::min(static_cast<std::size_t>(x), log_speed_.size() - 2);
        return log_speed_[i] + (x - static_cast<double>(i)) * (log_speed_[i + 1] - log_speed_[i]);
    }

  private:
    double spacing_deg_;
    const StrokeTable& table_;
    std::vector<double> log_speed_;
};

/// One end of the gap between two fitted pulses.
struct Shore {
    double time_s = 0;
    double angle_deg = 0;
    double speed_rad_s = 0;
};

/// Knots between two shores: the neighbours' speeds, tilted to meet the speed at either shore and bent to
/// take the time that there is.
void bridge(const Neighbours& neighbours, const Shore& from, const Shore& to, Pressure& p) {
    const int steps = static_cast<int>((to.angle_deg - from.angle_deg) / gap_step_deg);
    if (steps < 2 || !(to.time_s > from.time_s)) return;
    const double step = (to.angle_deg - from.angle_deg) / steps;
    const double near = 0.1;  // degrees: inside the gap, on the neighbours' side of their spacing
    const double first = std::log(from.speed_rad_s) - neighbours.log_speed(from.angle_deg + near);
    const double last = std::log(to.speed_rad_s) - neighbours.log_speed(to.angle_deg - near);
    std::vector<double> taken;
    double bend = 0;
    for (int round = 0; round < 6; ++round) {
        taken.assign(1, 0);
        double by_bend = 0;
        for (int i = 0; i < steps; ++i) {
            const double u = (i + 0.5) / steps, bump = 4 * u * (1 - u);
            const double level = first + u * (last - first) + bend * bump;
            const double s =
                step * pi / 180 / std::exp(level + neighbours.log_speed(from.angle_deg + (i + 0.5) * step));
            taken.push_back(taken.back() + s);
            by_bend += bump * s;
        }
        bend += (taken.back() - (to.time_s - from.time_s)) / by_bend;
    }
    for (int i = 1; i < steps; ++i) {
        p.knot_s.push_back(from.time_s +
                           (to.time_s - from.time_s) * taken[static_cast<std::size_t>(i)] / taken.back());
        p.knot_deg.push_back(from.angle_deg + i * step);
    }
}

}  // namespace

void set_angle(const Solution& s, Pressure& p) {
    const double deg = 180 / pi;
    const Neighbours neighbours(s, usual_cylinders);
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
            bridge(neighbours, {p.knot_s.back(), p.knot_deg.back(), s.curves[*before].speed_rad_s.back()},
                   {curve.time_s.front(), turn + s.table.angle_rad(0) * deg, curve.speed_rad_s.front()}, p);
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
    const double angle_deg = signal::interpolate(p.knot_s, p.knot_deg, time_s);
    // The valves' part of the cycle before the first and after the last pulse is worth a straight line.
    const bool early = time_s < p.knot_s.front(), late = time_s >= p.knot_s.back();
    if ((early && !(angle_deg > p.knot_deg.front() - half_cycle_deg)) ||
        (late && !(angle_deg < p.knot_deg.back() + half_cycle_deg)))
        return std::nullopt;
    return angle_deg;
}

void set_mean_cycle(const Solution& s, double offset_kpa, Pressure& p) {
    constexpr auto cells = static_cast<std::size_t>(cycle_deg);
    std::vector<double> sum(cells, 0), count(cells, 0);
    for (const std::size_t k : s.used) {
        const double middle_s = s.pulses[k]->tdc_s;
        const double middle_deg = angle_at(p, middle_s).value_or(0);
        const double reach_s = p.speed_rpm ? 60 / p.speed_rpm->value * 1.15 : 0;
        for (std::size_t i = p.sample_at(middle_s - reach_s); i < p.sample_at(middle_s + reach_s); ++i) {
            const auto a = angle_at(p, p.time_s(i));
            if (!a) continue;
            const double at = std::floor(*a - middle_deg + half_cycle_deg + 0.5);
            if (at < 0 || at >= static_cast<double>(cells)) continue;
            sum[static_cast<std::size_t>(at)] += static_cast<double>(p.kpa[i]) - offset_kpa;
            count[static_cast<std::size_t>(at)] += 1;
        }
    }
    p.cycle.pressure_kpa.assign(cells, std::nullopt);
    for (std::size_t i = 0; i < cells; ++i) {
        if (count[i] > 0) p.cycle.pressure_kpa[i] = sum[i] / count[i];
        if (p.geometry_known)
            p.cycle.volume_cm3.push_back(
                1e6 * volume_m3(p.geometry, (static_cast<double>(i) - half_cycle_deg) * pi / 180));
    }
}

std::optional<double> mean_at(const Pressure& p, int deg) {
    const auto i = static_cast<std::size_t>(deg + static_cast<int>(half_cycle_deg));
    return i < p.cycle.pressure_kpa.size() ? p.cycle.pressure_kpa[i] : std::nullopt;
}

}  // namespace evenstroke::pressure
