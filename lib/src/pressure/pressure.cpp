#include "evenstroke/pressure.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "bare.hpp"
#include "clipping.hpp"
#include "cycle.hpp"
#include "drift.hpp"
#include "late_intake.hpp"
#include "plausible.hpp"
#include "prepare.hpp"
#include "screen.hpp"
#include "signal/statistics.hpp"
#include "solve.hpp"
#include "thermo.hpp"
#include "vacuum.hpp"
#include "values/notices.hpp"
#include "valves.hpp"

namespace evenstroke {

namespace pressure {

namespace {

using signal::normal_95;
/// Of one cycle, where there is no second: cranked cycles differ by 2 % (simulated).
constexpr double assumed_speed_sd_ratio = 0.02;
/// Assumed where the user gives no geometry: what follows from it says so.
constexpr Geometry assumed{};
/// Angles of the exponents: away from TDC, where heat and leak bend the line, and from the valves.
constexpr double exponent_far_deg = 80, exponent_near_deg = 20;
/// What the model's own error leaves of the leak, sd of its logarithm, learnt on drawn engines: the heat's
/// loss hides a small leak, more so where the crank's speed near TDC varies much; a large one stands out
/// (docs/pressure.md, "Weights").
constexpr double small_leak_sd = 0.3, small_leak_wide_swing_sd = 0.6, large_leak_sd = 0.15;
/// A large leak takes this share of the gauge peak.
constexpr double large_loss_ratio = 0.4;
/// Heat that the model does not know of looks like a leak: sd of the gauge peak over that without leaks,
/// upwards. On drawn engines whose crank slows much near TDC it was found 15 points off (rms), and a sound
/// cylinder up to 36 too low: no such engine is condemned on less than that.
constexpr double sealed_sd = 0.04, wide_swing_sealed_sd = 0.15;
/// Of the sensor's offset, beside the fit's own interval: walls and valves are not quite the model's.
constexpr double offset_model_sd_kpa = 1.5, offset_wide_swing_sd_kpa = 2.5;

/// Diesels reach about 25 (from memory); more than twice that is a slip of the key.
constexpr double most_compression_ratio = 60;

void set_geometry(const PressureOptions& o, Pressure& p) {
    p.geometry = assumed;
    p.geometry_known = o.bore_m && o.stroke_m && o.rod_m;
    p.ratio_known = p.geometry_known && o.compression_ratio;
    if (o.bore_m) p.geometry.bore_m = *o.bore_m;
    if (o.stroke_m) p.geometry.stroke_m = *o.stroke_m;
    if (o.rod_m) p.geometry.rod_m = *o.rod_m;
    if (!o.rod_m && o.stroke_m) p.geometry.rod_m = 1.65 * *o.stroke_m;  // the usual proportion
    if (o.compression_ratio) p.geometry.compression_ratio = *o.compression_ratio;
    if (!(p.geometry.bore_m > 0 && p.geometry.stroke_m > 0 && p.geometry.rod_m > p.geometry.stroke_m / 2 &&
          p.geometry.compression_ratio > 1 && p.geometry.compression_ratio <= most_compression_ratio))
        throw Error(ErrorCode::bad_engine, "--bore, --stroke, --rod, --compression-ratio",
                    "these are not the dimensions of a cylinder",
                    fmt::format("bore and stroke above 0, a rod longer than half the stroke (mm), a ratio "
                                "above 1 and up to {:.0f}",
                                most_compression_ratio));
    if (!p.geometry_known)
        p.notices.push_back({"no-geometry",
                             "Without --bore, --stroke and --rod, TDC, loss angle and speed near TDC rest on "
                             "a typical cylinder's proportions, and leak and exponents are not given."});
}

std::optional<Figure> interval_of(const std::vector<double>& values, double extra_sd = 0) {
    if (values.empty()) return std::nullopt;
    const double mean = signal::mean(values);
    if (values.size() < 2)
        return extra_sd > 0
                   ? std::optional(Figure{mean, mean - normal_95 * extra_sd, mean + normal_95 * extra_sd})
                   : std::nullopt;
    const auto n = static_cast<double>(values.size());
    const double chance = signal::student_t_quantile(signal::two_sided_95, n - 1) *
                          signal::standard_deviation(values) / std::sqrt(n);
    const double half = std::hypot(chance, normal_95 * extra_sd);
    return Figure{mean, mean - half, mean + half};
}

std::optional<Figure> log_figure(double value, double log_sd) {
    return Figure{value, value * std::exp(-normal_95 * log_sd), value * std::exp(normal_95 * log_sd)};
}

/// Few values that differ much have an interval that reaches below what there can be; where the value itself
/// does, as an absolute pressure behind a zero that is far off, it is not known.
void keep_positive(std::optional<Figure>& figure) {
    if (figure && !(figure->value > 0)) figure.reset();
    if (figure) figure->low = std::max(0.0, figure->low);
}

/// Mean speed over whole cycles between the settled pulses' TDCs (peaks where TDC is not known).
void set_speed(const PulseTrain& train, const std::optional<Solution>& s, Pressure& p) {
    std::vector<double> rpm, times;
    for (std::size_t k = 0; k < train.pulses.size(); ++k) {
        const bool known = s && s->pulses[k];
        times.push_back(known ? s->pulses[k]->tdc_s : train.pulses[k].peak_s);
    }
    const std::size_t first = times.size() > 3 ? 1 : 0;
    for (std::size_t k = first + 1; k < times.size(); ++k) {
        const double gap = times[k] - times[k - 1];
        const double cycles = std::max(1.0, std::round(gap / *train.period_s));
        rpm.push_back(120 * cycles / gap);
    }
    p.speed_rpm = interval_of(rpm);
    if (!p.speed_rpm && !rpm.empty()) p.speed_rpm = interval_of(rpm, assumed_speed_sd_ratio * rpm[0]);
    keep_positive(p.speed_rpm);
    if (!s) return;
    for (const std::size_t k : s->used) {
        const auto [least, most] =
            std::minmax_element(s->curves[k].speed_rad_s.begin(), s->curves[k].speed_rad_s.end());
        const double to_rpm = 30 / pi / static_cast<double>(s->used.size());
        p.speed_least_rpm = p.speed_least_rpm.value_or(0) + *least * to_rpm;
        p.speed_most_rpm = p.speed_most_rpm.value_or(0) + *most * to_rpm;
    }
}

/// Offset of the readings from absolute pressure, kPa, and its sd.
struct Offset {
    double kpa = 0;
    double sd_kpa = 0;
};

void set_pulses(const PulseTrain& train, const std::optional<Solution>& s, const Offset& offset,
                Pressure& p) {
    std::vector<double> peaks, losses;
    double loss_sd = 0;
    for (std::size_t k = 0; k < train.pulses.size(); ++k) {
        PressurePulse pulse;
        pulse.peak_s = train.pulses[k].peak_s;
        pulse.peak_kpa = train.pulses[k].peak - offset.kpa;
        if (s && s->pulses[k]) {
            const PulseState& state = *s->pulses[k];
            pulse.tdc_s = state.tdc_s;
            pulse.tdc_low_s = state.tdc_s - normal_95 * s->tdc_sd_s[k];
            pulse.tdc_high_s = state.tdc_s + normal_95 * s->tdc_sd_s[k];
            const GasCurve& curve = s->curves[k];
            const auto top = static_cast<std::size_t>(
                std::max_element(curve.pressure_pa.begin(), curve.pressure_pa.end()) -
                curve.pressure_pa.begin());
            const auto tdc_step =
                static_cast<std::size_t>(std::lround(-s->table.first_rad / s->table.step_rad));
            const double near_speed = curve.speed_rad_s[tdc_step];
            pulse.speed_rpm = near_speed * 30 / pi;
            pulse.peak_angle_deg =
                (pulse.peak_s - state.tdc_s) * (near_speed + curve.speed_rad_s[top]) / 2 * 180 / pi;
            pulse.used = std::find(s->used.begin(), s->used.end(), k) != s->used.end() ||
                         (k > 0 && train.pulses[k].whole);
            if (std::find(s->used.begin(), s->used.end(), k) != s->used.end()) {
                losses.push_back(-*pulse.peak_angle_deg);
                loss_sd = std::max(loss_sd, s->tdc_sd_s[k] * near_speed * 180 / pi);
            }
        } else
            pulse.used = train.pulses[k].whole && (k > 0 || train.pulses.size() < 3);
        if (pulse.used) peaks.push_back(*pulse.peak_kpa);
        p.pulses.push_back(pulse);
    }
    p.peak_kpa = interval_of(peaks, offset.sd_kpa);
    keep_positive(p.peak_kpa);
    if (peaks.size() > 1) p.peak_sd_kpa = signal::standard_deviation(peaks);
    p.loss_angle_deg = interval_of(losses, loss_sd);
    if (p.peak_kpa && p.peak_kpa->value > p.ambient_kpa && train.pulses.front().whole &&
        !p.pulses.front().used)
        p.first_pulse_ratio =
            (*p.pulses.front().peak_kpa - p.ambient_kpa) / (p.peak_kpa->value - p.ambient_kpa);
}

void say_lower_ratio(Pressure& p) {
    const Figure& own = *p.compression_ratio;
    p.notices.push_back(
        {"lower-ratio",
         fmt::format(
             "The pressure fits a compression ratio of {:.1f} ({:.1f} to {:.1f}) far better than the {:g} "
             "that was given, and was analysed with it. If {:g} is right for this engine, the piston no "
             "longer rises as far as it should, as with a bent rod: compare its height at TDC with the "
             "others'. Otherwise give the right --compression-ratio.",
             own.value, own.low, own.high, p.geometry.compression_ratio, p.geometry.compression_ratio)});
}

/// Shares of the figures that stand behind the fit.
void set_fitted(const Solution& s, const Offset& offset, Pressure& p) {
    const FitResult& f = s.shared;
    const double zero = p.gauge ? -p.ambient_kpa : 0;
    p.sensor_offset_kpa = Figure{offset.kpa - zero, offset.kpa - zero - normal_95 * offset.sd_kpa,
                                 offset.kpa - zero + normal_95 * offset.sd_kpa};
    if (!p.geometry_known) return;
    if (!s.ratio_fitted)
        p.compression_ratio =
            Figure{p.geometry.compression_ratio, p.geometry.compression_ratio, p.geometry.compression_ratio};
    else {
        const double sd = shared_sd(f, Shared::ratio);
        const double clear = f.cylinder.compression_ratio - 1;
        p.compression_ratio =
            Figure{1 + clear, 1 + clear * std::exp(-normal_95 * sd), 1 + clear * std::exp(normal_95 * sd)};
        if (p.ratio_known) say_lower_ratio(p);
        p.geometry.compression_ratio = f.cylinder.compression_ratio;
    }
}

/// Sd of the leak's logarithm, for a cylinder whose gauge peak is `sealed` of what it were without leaks.
double leak_log_sd(const Solution& s, double sealed) {
    const double small_sd = s.wide_swing ? small_leak_wide_swing_sd : small_leak_sd;
    const double large = std::min(1.0, (1 - sealed) / large_loss_ratio);
    return std::hypot(shared_sd(s.shared, Shared::leak), small_sd + large * (large_leak_sd - small_sd));
}

/// The leak and what it costs: the model run with the fitted leak, and without.
void set_leak(const Solution& s, Pressure& p) {
    if (!p.geometry_known) return;
    const auto gauge_peak = [&](double leak_m2) {
        CylinderState c = s.shared.cylinder;
        c.leak_m2 = leak_m2;
        double sum = 0;
        GasCurve curve;
        for (const auto& pulse : s.shared.pulses) {
            run(s.table, c, pulse, curve);
            sum += *std::max_element(curve.pressure_pa.begin(), curve.pressure_pa.end()) - c.ambient_pa;
        }
        return sum;
    };
    const double whole = gauge_peak(0);
    const double leak_m2 = s.shared.cylinder.leak_m2;
    const double value = gauge_peak(leak_m2) / whole;
    const double log_sd = leak_log_sd(s, value);
    p.leak_mm2 = log_figure(leak_m2 * 1e6, log_sd);
    const double factor = std::exp(normal_95 * log_sd);
    Figure sealed{value, gauge_peak(leak_m2 * factor) / whole, gauge_peak(leak_m2 / factor) / whole};
    const double heat_sd = s.wide_swing ? wide_swing_sealed_sd : sealed_sd;
    sealed.high = std::min(1.0, sealed.value + std::hypot(sealed.high - sealed.value, normal_95 * heat_sd));
    // A small leak costs in proportion to its area.
    if (value < 1)
        p.leak_mm2->low = std::min(p.leak_mm2->low, p.leak_mm2->value * (1 - sealed.high) / (1 - value));
    if (s.wide_swing) {
        p.notices.push_back({"wide-swing",
                             "The crank's speed near the top varies by more than a factor of 1.8, and such a "
                             "swing looks like a leak: leak, loss angle and TDC are less sure, and only a "
                             "large leak is called one. Charge the battery and record again."});
    }
    p.sealed_ratio = sealed;
}

/// The fitted charge drawn on with both valves shut, mean of the pulses, from the fit's end to the bottom.
ClosedLine closed_line(const Solution& s, const Pressure& p, bool onward) {
    constexpr double bottom_deg = 180;
    const StrokeTable wide = stroke_table(p.geometry, -bottom_deg * pi / 180, bottom_deg * pi / 180);
    const double end_rad = onward ? s.table.angle_rad(s.table.steps()) : s.table.first_rad;
    const auto from = static_cast<std::size_t>(std::lround((end_rad - wide.first_rad) / wide.step_rad));
    ClosedLine line{end_rad * 180 / pi, (onward ? 1 : -1) * wide.step_rad * 180 / pi, {}};
    for (const GasCurve& curve : s.shared.curves) {
        const std::size_t i = onward ? curve.mass_kg.size() - 1 : 0;
        const Charge charge{from, curve.pressure_pa[i], curve.mass_kg[i], curve.speed_rad_s[i]};
        const auto pa = stay_shut(wide, s.shared.cylinder, charge, onward ? wide.steps() : 0);
        line.kpa.resize(pa.size(), 0);
        for (std::size_t k = 0; k < pa.size(); ++k)
            line.kpa[k] += pa[k] / 1e3 / static_cast<double>(s.shared.curves.size());
    }
    return line;
}

void set_trapped(const Solution& s, Pressure& p) {
    if (!p.geometry_known) return;
    std::vector<double> ratios;
    const CylinderState& c = s.shared.cylinder;
    const double space = volume_m3(p.geometry, s.table.first_rad) / volume_m3(p.geometry, pi);
    constexpr double isentrope = 1.4;
    // What is drawn in past a throttle is thinner, but no colder; from there on compression warms it.
    const double intake_pa = std::min(c.intake_pa, c.ambient_pa);
    for (const auto& pulse : s.shared.pulses)
        ratios.push_back(intake_pa / c.ambient_pa * space *
                         std::pow(pulse.start_pa / intake_pa, 1 / isentrope));
    p.trapped_ratio = interval_of(ratios, 0.03);  // ambient pressure and start temperature, about 3 %
    keep_positive(p.trapped_ratio);
    if (p.trapped_ratio && p.trapped_ratio->low > 1)
        p.notices.push_back(
            {"overfull",
             "More than a full cylinder seems to be trapped, and a cranked cylinder draws in no more: the "
             "compression ratio is likely higher than was given, or bore and stroke differ."});
}

/// Pressure at the first angle of the fit, mean of the pulses.
double start_kpa(const Solution& s) {
    double sum_pa = 0;
    for (const auto& pulse : s.shared.pulses) sum_pa += pulse.start_pa;
    return sum_pa / 1e3 / static_cast<double>(s.shared.pulses.size());
}

/// Above this the fit describes the pressure too badly to blame the intake for it: engines whose valves were
/// 50 degrees late stayed below 0.26, sound ones taken for such from 1.2 on (simulated).
constexpr double late_intake_misfit_ratio = 0.5;

/// The model takes the cylinder as shut while it still breathes: what it calls a leak is that.
void set_late_intake(const Figure& closes_deg, const Solution& s, Pressure& p) {
    p.leak_mm2.reset();
    p.sealed_ratio.reset();
    p.loss_angle_deg.reset();
    p.trapped_ratio.reset();
    std::erase_if(p.notices, [](const Notice& n) { return n.code == "no-intake-closing"; });
    if (s.wide_swing || s.shared.misfit > late_intake_misfit_ratio) {
        p.intake_closes_deg.reset();
        p.intake_closes_interval_deg.reset();
        std::erase_if(p.notices, [](const Notice& n) { return n.code == "wide-swing"; });
        p.notices.push_back(
            {"intake-unsure",
             std::string("The compression starts late, as when the intake closes late, but ") +
                 (s.wide_swing ? "the crank's speed near the top varies so much that this alone may show it: "
                               : "the fit describes the pressure too badly to say so: ") +
                 "intake closing, leak, charge and loss angle are not given. Charge the battery, crank for "
                 "longer and record again."});
        return;
    }
    p.intake_closes_deg = closes_deg.value;
    p.intake_closes_interval_deg = closes_deg;
    p.notices.push_back(
        {"late-intake",
         fmt::format("The intake closes about {:.0f} degrees before firing TDC, where the model takes it to "
                     "be long shut: leak, charge and loss angle cannot be determined, and TDC is a few "
                     "degrees less sure. Check the valve timing first, then record again.",
                     -closes_deg.value)});
}

constexpr const char* clipped_tops =
    "the tops reach the end of the range, so nothing is fitted to them; choose a larger range and record "
    "again";

/// Whether the fit describes the pressure, and with a crank and a starter that may be.
bool follows(const FitResult& fit) {
    // Residuals this many times larger than expected, or an unknown so far from what is known of engines.
    constexpr double most_misfit_ratio = 4, most_strain_sd = 5;
    return fit.misfit < most_misfit_ratio && fit.strain_sd < most_strain_sd;
}

/// All that rests on the fit.
void describe(const PulseTrain& train, const Solution& s, Pressure& p) {
    const Offset offset{s.shared.offset_pa / 1e3,
                        std::hypot(shared_sd(s.shared, Shared::offset) / 1e3,
                                   s.wide_swing ? offset_wide_swing_sd_kpa : offset_model_sd_kpa)};
    set_speed(train, s, p);
    set_pulses(train, s, offset, p);
    set_fitted(s, offset, p);
    set_angle(s, p);
    set_mean_cycle(s, offset.kpa, p);
    set_valves(p, closed_line(s, p, false), closed_line(s, p, true));
    set_trapped(s, p);
    set_leak(s, p);
    if (const auto closes = late_closing_deg(p, FitSetup{}.first_deg, start_kpa(s)))
        set_late_intake(*closes, s, p);
    p.misfit_ratio = s.shared.misfit;
    p.strain_sd = s.shared.strain_sd;
    if (p.geometry_known) {
        p.compression_exponent = exponent(p, -exponent_far_deg, -exponent_near_deg, offset.sd_kpa);
        p.expansion_exponent = exponent(p, exponent_near_deg, exponent_far_deg, offset.sd_kpa);
    }
}

/// What the pulses tell without a model, and why there is none.
void leave_unfitted(const PulseTrain& train, std::string why, Pressure& p) {
    p.unfitted = std::move(why);
    set_speed(train, {}, p);
    set_pulses(train, {}, {p.gauge ? -p.ambient_kpa : 0, 0}, p);
}

void analyse_motored(PulseTrain& train, Pressure& p) {
    if (has_notice(p.notices, "clipped")) return leave_unfitted(train, clipped_tops, p);
    if (p.unfitted) return leave_unfitted(train, *p.unfitted, p);
    if (const auto low_kpa = below_vacuum_kpa(p, train.rest)) {
        p.notices.push_back(
            {"below-vacuum",
             fmt::format("The readings fall {:.0f} kPa below vacuum, counted from their level between "
                         "strokes, and no gas does: the input is AC-coupled, as a microphone's or a charge "
                         "amplifier's is, or --scale is too large. Peaks and shape are not the cylinder's. "
                         "Record DC-coupled, and check the scale.",
                         *low_kpa)});
        return leave_unfitted(train, "the readings fall below vacuum (see the notices)", p);
    }
    p.floor_kpa = held_floor(p.kpa, p.rate_hz);
    if (p.floor_kpa)
        p.notices.push_back({"floor", fmt::format("The readings never fall below {:.0f} kPa, where the "
                                                  "transducer or its range ends: a leak shows "
                                                  "there most, after the peak. A transducer that reads below "
                                                  "the outside's pressure tells more.",
                                                  static_cast<double>(*p.floor_kpa))});
    p.bare = bare_pressure(train, p);
    const std::optional<Solution> s = solve(p, train);
    if (!s) {
        p.notices.push_back(
            {"no-whole-pulse",
             "No compression lies whole in the recording, so nothing was fitted. Record for longer."});
        return leave_unfitted(train, "no compression lies whole in the recording; record for longer", p);
    }
    if (!follows(s->shared)) {
        p.leak_possible = true;
        p.notices.push_back({"no-fit",
                             "The pressure does not follow a compression in a cylinder of these dimensions, "
                             "so TDC and what rests on it are not given. Check --bore, --stroke, --rod, "
                             "--compression-ratio and the scale; if the crank all but stops at the top or "
                             "still speeds up, charge the battery and crank longer. A leak to a neighbouring "
                             "cylinder is not a compression of one alone either: where all of that is right, "
                             "test the leakage of both."});
        return leave_unfitted(train, "no compression could be fitted (see the notices)", p);
    }
    Pressure fitted = p;
    describe(train, *s, fitted);
    if (const auto why = implausible(fitted)) {
        p.notices.push_back({"implausible",
                             "The fit gives a figure that no engine has, so TDC and what rests on it are not "
                             "given."});
        return leave_unfitted(train, *why, p);
    }
    p = std::move(fitted);
}

}  // namespace

}  // namespace pressure

Pressure measure_pressure(const Recording& recording, const PressureOptions& options) {
    Pressure p = pressure::prepare(recording, options);
    pressure::set_geometry(options, p);
    if (p.kind == PressureKind::staircase) {
        std::erase_if(p.notices, [](const Notice& n) { return n.code == "no-geometry"; });  // it needs none
        return p;
    }
    auto train = pressure::find_pulses(p.kpa, p.rate_hz, p.start_s, p.ambient_kpa);
    if (pressure::take_drift_off(p, train))
        train = pressure::find_pulses(p.kpa, p.rate_hz, p.start_s, p.ambient_kpa);
    pressure::screen(train, p);
    if (p.inconclusive) {
        // A clipped top looks as if burning held the pressure up.
        if (!train.pulses.empty() && has_notice(p.notices, "clipped")) {
            p.kind = PressureKind::motored;
            p.inconclusive = pressure::clipped_tops;
        }
        for (const auto& pulse : train.pulses) p.pulses.push_back({.peak_s = pulse.peak_s});
        return p;
    }
    pressure::analyse_motored(train, p);
    return p;
}

}  // namespace evenstroke
