#include "gas_model.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::pressure {

namespace {

/// Integration step: fourth-order Runge-Kutta then errs by less than 1e-5 of pressure and speed (tests).
constexpr double step_deg = 4;
constexpr double gas_constant = 287.05;  ///< dry air, J/(kg K)
constexpr double wall_k = 315;           ///< of a cranked engine; only its distance to the gas matters
constexpr double trapped_k = 305;        ///< charge before compression: a little warmed
constexpr double isentrope_power =
    0.286;                         ///< (gamma - 1) / gamma: how it warms up to the table's first angle
constexpr double ambient_k = 300;  ///< of what a leak lets in
/// Fall of air's ratio of specific heats with temperature, 1/K: 1.400 at 300 K, 1.364 at 700 K (air tables).
constexpr double gamma_slope = 8e-5;
/// Heat transfer grows with pressure and falls with temperature (Woschni's exponents, from memory), here
/// relative to 1 MPa and 500 K.
constexpr double heat_reference_pa = 1e6;
constexpr double heat_reference_k = 500;
/// … and never falls below what air stirred by the intake stroke gives at any density, as this share of that.
constexpr double still_share = 0.4;
/// Choked flow of air: critical pressure ratio and mass flow number (references: gas dynamics textbooks).
constexpr double critical_ratio = 0.5283;
constexpr double choked_number = 0.6847;
/// Width of a B-spline's interval: the swing has no detail finer than that (docs/pressure.md, "Speed").
constexpr double knot_deg = 20;

/// The clutch takes up a difference of speeds within this angle: its spring swings at 25 to 100 Hz.
constexpr double clutch_rad = 4 * pi / 180;
/// Width of its change from driving to overrunning, as a share of the speed.
constexpr double clutch_width_share = 0.01;
/// A crank slower than this share of the pulse's own speed is a wrong guess on the way to the fit.
constexpr double least_speed_share = 0.15;
/// … and one that has lost all but this share of what fills the cylinder is, too: with no mass left there is
/// no temperature, and the curve would no longer be of numbers.
constexpr double least_charge_share = 1e-3;

struct State {
    double p;
    double m;
    double t;
    double e;  ///< half the square of the crank's speed, (rad/s)²
    double r;  ///< speed of the starter's rotor, at the crank, rad/s
};

State along(const State& a, const State& slope, double h) {
    return {a.p + h * slope.p, a.m + h * slope.m, a.t + h * slope.t, a.e + h * slope.e, a.r + h * slope.r};
}

/// Mass flow per area through an orifice from (p, t_k) to `down` Pa: choked, or the ellipse that replaces
/// the subsonic law within a percent (the form of ISO 6358).
double flow_per_m2(double up_pa, double up_k, double down_pa) {
    const double ratio = down_pa / up_pa;
    double flow = choked_number * up_pa / std::sqrt(gas_constant * up_k);
    if (ratio > critical_ratio) {
        const double x = (ratio - critical_ratio) / (1 - critical_ratio);
        flow *= std::sqrt(std::max(0.0, 1 - x * x));
    }
    return flow;
}

constexpr double square(double x) {
    return x * x;
}

struct Slopes {
    const StrokeTable& table;
    const CylinderState& c;
    const PulseState& pulse;
    double clearance_m3 = table.swept_m3 / (c.compression_ratio - 1);
    double least_e = square(least_speed_share * pulse.speed_rad_s) / 2;
    double least_kg = least_charge_share * c.ambient_pa * table.swept_m3 / (gas_constant * ambient_k);

    [[nodiscard]] double speed(const State& s) const { return std::sqrt(2 * std::max(s.e, least_e)); }
    /// What the other cylinders add to half the square of the speed, (rad/s)² a rad.
    [[nodiscard]] double others(std::size_t half_step) const {
        double slope = 0;
        for (std::size_t j = 0; j < 4; ++j)
            slope += table.spline_slope[4 * half_step + j] * c.swing[table.spline_first[half_step] + j];
        return slope * pulse.mean_speed_rad_s * pulse.mean_speed_rad_s;
    }
    /// What the clutch hands on, N m: it drives a crank that would fall behind the rotor, and never brakes.
    [[nodiscard]] double clutch_nm(double w, double rotor) const {
        const double joint = c.inertia_kg_m2 * c.rotor_share / (1 + c.rotor_share);
        const double behind = rotor - w;
        return joint * w / clutch_rad *
               (behind + std::sqrt(behind * behind + square(clutch_width_share * w))) / 2;
    }
    [[nodiscard]] double drive_nm(double rotor) const {
        return c.friction_nm * c.drive_share * (1 + c.drive_slope * (1 - rotor / pulse.mean_speed_rad_s));
    }
    [[nodiscard]] State at(std::size_t half_step, const State& s) const {
        const double v = clearance_m3 + table.lift_m3[half_step];
        const double dv = table.slope_m3[half_step];
        const double w = speed(s);
        const double p = std::max(s.p, 1e3);
        const double m = std::max(s.m, least_kg);
        const double t_k = p * v / (m * gas_constant);
        const double gamma = c.gamma - gamma_slope * (t_k - ambient_k);
        const double heat_share =
            still_share + std::pow(p / heat_reference_pa, 0.8) * std::sqrt(heat_reference_k / t_k);
        const double area = table.ends_m2 + table.wall_m2[half_step];
        const double heat_w = c.heat_w_m2k * heat_share * area * (wall_k - t_k);
        double dm = 0;
        double dp = -gamma * p * dv / v + (gamma - 1) * heat_w / (w * v);
        if (p > c.ambient_pa) {
            dm = -c.leak_m2 * flow_per_m2(p, t_k, c.ambient_pa) / w;
            dp += gamma * p * dm / m;
        } else {
            dm = c.leak_m2 * flow_per_m2(c.ambient_pa, ambient_k, p) / w;
            dp += gamma * gas_constant * ambient_k * dm / v;
        }
        const double clutch = clutch_nm(w, s.r);
        const double crank_nm = (p - c.ambient_pa) * dv - c.friction_nm + clutch;
        const double rotor_nm = drive_nm(s.r) - clutch;
        return {dp, dm, 1 / w, crank_nm / c.inertia_kg_m2 + others(half_step) + pulse.slope * w * w,
                rotor_nm / (c.rotor_share * c.inertia_kg_m2 * w)};
    }
};

/// One step of fourth-order Runge-Kutta from half step `from` to `to`, its first slope known.
State step(const Slopes& slopes, const State& s, const State& k1, std::size_t from, std::size_t to,
           double h) {
    const std::size_t middle = (from + to) / 2;
    const State k2 = slopes.at(middle, along(s, k1, h / 2));
    const State k3 = slopes.at(middle, along(s, k2, h / 2));
    const State k4 = slopes.at(to, along(s, k3, h));
    const auto mean = [h](double one, double two, double three, double four) {
        return h / 6 * (one + 2 * two + 2 * three + four);
    };
    return {s.p + mean(k1.p, k2.p, k3.p, k4.p), s.m + mean(k1.m, k2.m, k3.m, k4.m),
            s.t + mean(k1.t, k2.t, k3.t, k4.t), s.e + mean(k1.e, k2.e, k3.e, k4.e),
            s.r + mean(k1.r, k2.r, k3.r, k4.r)};
}

/// Uniform cubic B-splines over the table's range.
void add_splines(StrokeTable& table) {
    const double range = static_cast<double>(table.steps()) * table.step_rad;
    const auto intervals = static_cast<std::size_t>(std::max(2L, std::lround(range * 180 / pi / knot_deg)));
    table.splines = intervals + 3;
    table.spline_starts.assign(table.splines, 0);
    for (std::size_t i = 0; i < table.lift_m3.size(); ++i) {
        const double x = static_cast<double>(i) / static_cast<double>(table.lift_m3.size() - 1) *
                         static_cast<double>(intervals);
        const std::size_t first = std::min(static_cast<std::size_t>(x), intervals - 1);
        const double u = x - static_cast<double>(first);
        const double v = 1 - u;
        if (i > 0 && first != table.spline_first.back()) table.spline_starts[first + 3] = (i - 1) / 2;
        table.spline_first.push_back(first);
        for (const double b : {-v * v, 3 * u * u - 4 * u, -3 * u * u + 2 * u + 1, u * u})
            table.spline_slope.push_back(b / 2 * static_cast<double>(intervals) / range);
    }
}

}  // namespace

StrokeTable stroke_table(const Geometry& g, double first_rad, double last_rad) {
    StrokeTable table;
    table.step_rad = step_deg * pi / 180;
    const int before = static_cast<int>(std::ceil(-first_rad / table.step_rad));
    const int after = static_cast<int>(std::ceil(last_rad / table.step_rad));
    table.first_rad = -before * table.step_rad;
    const double piston_m2 = pi / 4 * g.bore_m * g.bore_m;
    table.ends_m2 = 2 * piston_m2;
    table.swept_m3 = displacement_m3(g);
    const double top_m3 = volume_m3(g, 0);
    for (int i = -2 * before; i <= 2 * after; ++i) {
        const double a = i * table.step_rad / 2;
        table.lift_m3.push_back(volume_m3(g, a) - top_m3);
        table.slope_m3.push_back(volume_slope_m3_per_rad(g, a));
        table.wall_m2.push_back(table.lift_m3.back() / piston_m2 * pi * g.bore_m);
    }
    add_splines(table);
    return table;
}

double GasCurve::at(double when) const {
    return between(when, static_cast<std::size_t>(std::upper_bound(time_s.begin(), time_s.end(), when) -
                                                  time_s.begin()));
}

double GasCurve::next(double when, std::size_t& after) const {
    while (after < time_s.size() && time_s[after] <= when) ++after;
    return between(when, after);
}

double GasCurve::between(double when, std::size_t i) const {
    if (i == 0) return pressure_pa.front() + (when - time_s.front()) * slope_pa_s.front();
    if (i == time_s.size()) return pressure_pa.back() + (when - time_s.back()) * slope_pa_s.back();
    const double h = time_s[i] - time_s[i - 1];
    const double u = (when - time_s[i - 1]) / h;
    const double v = 1 - u;
    return v * v * (1 + 2 * u) * pressure_pa[i - 1] + u * u * (3 - 2 * u) * pressure_pa[i] +
           h * u * v * (v * slope_pa_s[i - 1] - u * slope_pa_s[i]);
}

namespace {

State first_state(const Slopes& slopes) {
    const PulseState& pulse = slopes.pulse;
    const double v0 = slopes.clearance_m3 + slopes.table.lift_m3.front();
    const double start_k = trapped_k * std::pow(pulse.start_pa / slopes.c.intake_pa, isentrope_power);
    const double w = pulse.speed_rad_s * std::exp(slopes.table.first_rad * pulse.slope);
    return {pulse.start_pa, pulse.start_pa * v0 / (gas_constant * start_k), 0, square(w) / 2,
            w * (1 - slopes.c.rotor_lag)};
}

/// Integrates from step `from`, where the state is `s`, to the end; what `curve` holds before stays.
void run_on(const Slopes& slopes, State s, std::size_t from, GasCurve& curve) {
    const StrokeTable& table = slopes.table;
    const std::size_t steps = table.steps();
    for (std::vector<double>* v : {&curve.time_s, &curve.pressure_pa, &curve.slope_pa_s, &curve.speed_rad_s,
                                   &curve.rotor_rad_s, &curve.mass_kg})
        v->resize(steps + 1);
    for (std::size_t i = from; i <= steps; ++i) {
        const State k1 = slopes.at(2 * i, s);
        curve.time_s[i] = s.t;
        curve.pressure_pa[i] = s.p;
        curve.slope_pa_s[i] = k1.p / k1.t;
        curve.speed_rad_s[i] = 1 / k1.t;
        curve.rotor_rad_s[i] = s.r;
        curve.mass_kg[i] = s.m;
        if (i == steps) break;
        s = step(slopes, s, k1, 2 * i, 2 * i + 2, table.step_rad);
    }
    const double shift_s = slopes.pulse.tdc_s - curve.time_s[table.tdc_step()];
    for (double& t : curve.time_s) t += shift_s;
}

}  // namespace

void run(const StrokeTable& table, const CylinderState& c, const PulseState& pulse, GasCurve& curve) {
    const Slopes slopes{table, c, pulse};
    run_on(slopes, first_state(slopes), 0, curve);
}

void rerun(const StrokeTable& table, const CylinderState& c, const PulseState& pulse, const GasCurve& before,
           std::size_t from, GasCurve& curve) {
    curve = before;
    const State s{before.pressure_pa[from], before.mass_kg[from], before.time_s[from],
                  square(before.speed_rad_s[from]) / 2, before.rotor_rad_s[from]};
    run_on(Slopes{table, c, pulse}, s, from, curve);
}

std::vector<double> stay_shut(const StrokeTable& table, CylinderState c, const Charge& charge,
                              std::size_t last_step) {
    constexpr double steady_kg_m2 = 1e9;
    c.inertia_kg_m2 = steady_kg_m2;
    c.rotor_share = 1e-9;  // … and no starter that could be felt
    c.drive_share = 0;
    c.swing.assign(table.splines, 0);
    PulseState pulse;
    pulse.speed_rad_s = pulse.mean_speed_rad_s = charge.speed_rad_s;
    const Slopes slopes{table, c, pulse};
    State s{charge.pressure_pa, charge.mass_kg, 0, square(charge.speed_rad_s) / 2, charge.speed_rad_s};
    const bool onward = last_step >= charge.step;
    const double h = onward ? table.step_rad : -table.step_rad;
    std::vector<double> out{s.p};
    for (std::size_t i = charge.step; i != last_step;) {
        const std::size_t next = onward ? i + 1 : i - 1;
        s = step(slopes, s, slopes.at(2 * i, s), 2 * i, 2 * next, h);
        out.push_back(s.p);
        i = next;
    }
    return out;
}

}  // namespace evenstroke::pressure
