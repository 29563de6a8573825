#include "solve.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "signal/levels.hpp"
#include "strokes.hpp"

namespace evenstroke::pressure {

namespace {

/// Pulses that the shared unknowns are fitted to: more of them narrow chance, not the model's own error.
constexpr std::size_t most_shared = 8;
/// Readings are averaged over this angle: the pressure bends little within it.
constexpr double mean_deg = 1;
/// First look: this far on either side of a TDC that follows the peak by `usual_loss_deg`.
constexpr double first_look_deg = 70, usual_loss_deg = 4;
/// The model errs by this pressure, by this share of the pressure, and its speed by this angle; all persist
/// over about `alike_factor`² readings and from pulse to pulse (docs/pressure.md, "Weights").
constexpr double model_pa = 500, model_share = 0.001, model_angle_deg = 0.3, alike_factor = 1.06;
constexpr double first_share = 0.01, first_pa = 2e3;
/// Prior of the offset's sd about the seen zero, of the plateau, and of ambient pressure.
constexpr double offset_sd_pa = 20e3, plateau_sd_pa = 1.5e3, ambient_sd_pa = 2.5e3;
/// Where the intake usually closes; sets where the pressure at the table's first angle is looked for.
constexpr double usual_closing_deg = -128, early_exponent = 1.38;
constexpr double leak_starts_m2[] = {0.5e-6, 4e-6};
/// … and inertias, per volume swept: the one that suits a pulse best, so that no guess stops the crank.
constexpr double inertia_starts_kg_m2_per_m3[] = {200, 300, 450, 700, 1000, 1500, 3000};
constexpr int look_steps = 8;
constexpr int first_steps = 12, later_steps = 12, last_steps = 40;
/// What the model's own error leaves of TDC beside the fit's interval, sd, learnt on drawn engines: where the
/// crank's highest speed near TDC is so many times its lowest, and elsewhere (docs/pressure.md, "Weights").
constexpr double wide_swing_ratio = 1.8, wide_swing_tdc_deg = 2.3, model_tdc_deg = 1.2;
/// … and where an unknown had to be pulled this far from what is known of engines.
constexpr double strained_sd = 3, strained_tdc_deg = 2.8;
/// The ratio that was given is contradicted where a fit with one of its own, lower by this much (logarithm of
/// the ratio less 1), has a sum of squares that is smaller by this much, and describes the pressure with a
/// crank that is less strange. On another simulator the sum fell by 25 and more for cylinders 15 % and more
/// off, and by 10 at most for those that had it. Higher ones were found only where the crank's swing was
/// taken for them.
constexpr double lower_ratio_log = 0.15, lower_ratio_gain = 20;
constexpr double eased_sd = 0.6, eased_to_sd = 3.5, eased_misfit = 0.3;
/// A piston that stays lower by more than this share of the stroke has no rod any more (from memory): then a
/// leak is the likelier reason.
constexpr double most_sunk_strokes = 0.15;
/// A lower ratio is tried where an unknown lies this far from the usual, from this share of the given one
/// (less 1) on.
constexpr double hint_strain_sd = 1.5, lower_ratio_start = 0.75;
/// A pulse whose peak lies this far from the recording's end can still be fitted by its own unknowns.
constexpr double least_after_peak_deg = 4;

/// `count` of them, evenly spread; all where there are no more.
template <class T>
std::vector<T> spread(const std::vector<T>& all, std::size_t count) {
    if (all.size() <= count) return all;
    std::vector<T> some;
    for (std::size_t i = 0; i < count; ++i) some.push_back(all[i * (all.size() - 1) / (count - 1)]);
    return some;
}

/// Highest over lowest speed of the crank near TDC, mean of the pulses.
double swing_ratio(const std::vector<GasCurve>& curves) {
    double sum = 0;
    for (const GasCurve& curve : curves) {
        const auto [low, high] = std::minmax_element(curve.speed_rad_s.begin(), curve.speed_rad_s.end());
        sum += *high / *low;
    }
    return sum / static_cast<double>(curves.size());
}

bool finite(const GasCurve& curve) {
    return std::isfinite(curve.time_s.front()) && std::isfinite(curve.time_s.back());
}

/// Whether every curve is of numbers: dimensions that no engine has can drive the model out of them.
bool finite(const FitResult& fit) {
    return std::all_of(fit.curves.begin(), fit.curves.end(),
                       [](const GasCurve& curve) { return finite(curve); });
}

class Solver {
  public:
    Solver(const Pressure& p, const PulseTrain& train) : p_(p), train_(train) {
        mean_speed_ = 4 * pi / *train.period_s;
        end_s_ = p.time_s(p.kpa.size() - 1);
        setup_.geometry = p.geometry;
        setup_.ratio_known = p.ratio_known;
        setup_.mean_speed_rad_s = mean_speed_;
        setup_.ambient_pa = {p.ambient_kpa * 1e3, ambient_sd_pa};
        const double rest = plateau_pa(exhaust_stroke).value_or(train.rest * 1e3);
        // The zero as it is seen: what stands between strokes is ambient.
        setup_.offset_pa = {std::clamp(rest - p.ambient_kpa * 1e3, -1e9, 1e9), offset_sd_pa};
        if (std::abs(setup_.offset_pa.mean) < offset_sd_pa) setup_.offset_pa.mean = 0;
        if (std::abs(rest) < offset_sd_pa) setup_.offset_pa.mean = -p.ambient_kpa * 1e3;
        setup_.plateau_pa = Prior{rest, plateau_sd_pa};
        setup_.intake_pa = plateau_pa(intake_stroke).value_or(rest);
        table_ = stroke_table(p_.geometry, setup_.first_deg * pi / 180, setup_.last_deg * pi / 180);
        noise_pa_ = std::max(100.0, train.noise * 1e3);
        // Ambient less what the intake stroke lies below the exhaust stroke, and never above it: where the
        // crank dwells about TDC, that part of a cycle lies in the compression.
        const double ambient_pa = p.ambient_kpa * 1e3;
        start_pa_ = std::clamp(ambient_pa + setup_.intake_pa - rest, least_intake_pa, ambient_pa) *
                    std::pow(volume_m3(p.geometry, usual_closing_deg * pi / 180) /
                                 volume_m3(p.geometry, setup_.first_deg * pi / 180),
                             early_exponent);
    }

    std::optional<Solution> run() {
        Solution s;
        s.table = table_;
        s.used = choose();
        if (s.used.empty()) return std::nullopt;
        s.shared = fit_shared(setup_, s.used);
        s.ratio_fitted = !setup_.ratio_known;
        if (setup_.ratio_known && s.shared.strain_sd > hint_strain_sd) try_lower_ratio(s);
        if (!finite(s.shared)) {
            s.shared.misfit = std::numeric_limits<double>::infinity();
            return s;
        }
        s.wide_swing = swing_ratio(s.shared.curves) > wide_swing_ratio;
        const double model_sd_s = seconds(s.shared.strain_sd > strained_sd ? strained_tdc_deg
                                          : s.wide_swing                   ? wide_swing_tdc_deg
                                                                           : model_tdc_deg);
        s.pulses.resize(train_.pulses.size());
        s.curves.resize(train_.pulses.size());
        s.tdc_sd_s.resize(train_.pulses.size());
        for (std::size_t i = 0; i < s.used.size(); ++i) {
            s.pulses[s.used[i]] = s.shared.pulses[i];
            s.curves[s.used[i]] = s.shared.curves[i];
            s.tdc_sd_s[s.used[i]] = std::hypot(pressure::tdc_sd_s(s.shared, i), model_sd_s);
        }
        for (std::size_t k = 0; k < train_.pulses.size(); ++k)
            if (!s.pulses[k]) fit_alone(s, k, model_sd_s);
        return s;
    }

  private:
    [[nodiscard]] double seconds(double deg) const { return deg * pi / 180 / mean_speed_; }

    /// Median reading of a part of the cycle, over the pulses; empty where no pulse has it in the recording.
    [[nodiscard]] std::optional<double> plateau_pa(Part part) const {
        std::vector<float> readings;
        for (const RoughPulse& pulse : train_.pulses) {
            const auto sample = [&](double cycles) {
                return (pulse.peak_s + cycles * *train_.period_s - p_.start_s) * p_.rate_hz;
            };
            if (sample(part.first) < 0 || sample(part.last) >= static_cast<double>(p_.kpa.size())) continue;
            for (auto i = static_cast<std::size_t>(sample(part.first));
                 i < static_cast<std::size_t>(sample(part.last)); ++i)
                readings.push_back(p_.kpa[i]);
        }
        if (readings.empty()) return std::nullopt;
        return 1e3 * signal::quantile(readings, 0.5);
    }
    /// Whole pulses, the first left out when there are enough: the engine still speeds up there.
    [[nodiscard]] std::vector<std::size_t> choose() const {
        std::vector<std::size_t> whole;
        for (std::size_t k = 0; k < train_.pulses.size(); ++k) {
            const auto& pulse = train_.pulses[k];
            if (pulse.whole && pulse.peak_s - seconds(130) > p_.start_s &&
                pulse.peak_s + seconds(125) < end_s_)
                whole.push_back(k);
        }
        if (whole.size() > 2 && whole.front() == 0) whole.erase(whole.begin());
        return spread(whole, most_shared);
    }
    [[nodiscard]] PulseData take(double from_s, double to_s, double period_s) const {
        PulseData d;
        d.period_s = period_s;
        const auto block =
            static_cast<std::size_t>(std::max(1.0, std::round(seconds(mean_deg) * p_.rate_hz)));
        const std::size_t last = p_.sample_at(to_s);
        for (std::size_t i = p_.sample_at(from_s); i + block <= last; i += block) {
            double sum = 0;
            bool shown = true;
            for (std::size_t k = 0; k < block; ++k) {
                sum += static_cast<double>(p_.kpa[i + k]);
                shown = shown && !(p_.floor_kpa && p_.kpa[i + k] <= *p_.floor_kpa);
            }
            if (!shown) continue;
            d.time_s.push_back(p_.start_s +
                               (static_cast<double>(i) + static_cast<double>(block - 1) / 2) / p_.rate_hz);
            d.reading_pa.push_back(sum / static_cast<double>(block) * 1e3);
            d.count.push_back(static_cast<double>(block));
        }
        return d;
    }
    void weigh_first(PulseData& d) const {
        d.sd_pa.clear();
        for (const double reading : d.reading_pa)
            d.sd_pa.push_back(first_share * std::abs(reading - setup_.offset_pa.mean) + first_pa + noise_pa_);
    }
    void weigh(PulseData& d, const GasCurve& curve, std::size_t pulses) const {
        d.sd_pa.clear();
        const double factor = alike_factor * std::sqrt(static_cast<double>(pulses));
        const double shift_s = seconds(model_angle_deg);
        const double h = seconds(1);
        for (std::size_t i = 0; i < d.time_s.size(); ++i) {
            const double slope = (curve.at(d.time_s[i] + h) - curve.at(d.time_s[i] - h)) / (2 * h);
            const double own =
                factor * std::hypot(slope * shift_s, model_share * curve.at(d.time_s[i]), model_pa);
            d.sd_pa.push_back(std::hypot(noise_pa_ / std::sqrt(d.count[i]), own));
        }
    }
    /// The cycle that pulse `k` stands in: mean of the distances to its neighbours.
    [[nodiscard]] double period_s(std::size_t k) const {
        double sum = 0;
        int count = 0;
        const auto add = [&](double gap) {
            if (gap > 0.7 * *train_.period_s && gap < 1.4 * *train_.period_s) sum += gap, ++count;
        };
        if (k > 0) add(train_.pulses[k].peak_s - train_.pulses[k - 1].peak_s);
        if (k + 1 < train_.pulses.size()) add(train_.pulses[k + 1].peak_s - train_.pulses[k].peak_s);
        return count > 0 ? sum / count : *train_.period_s;
    }
    [[nodiscard]] PulseState first_state(std::size_t k) const {
        PulseState state;
        state.tdc_s = train_.pulses[k].peak_s + seconds(usual_loss_deg);
        state.speed_rad_s = 1.05 * mean_speed_;  // at the table's first angle; slowest near TDC
        state.mean_speed_rad_s = 4 * pi / period_s(k);
        state.start_pa = start_pa_;
        return state;
    }
    /// A usual cylinder with that leak, its crank as heavy as one pulse shows it.
    [[nodiscard]] CylinderState first_cylinder(const FitSetup& setup, double leak_m2,
                                               const std::vector<PulseData>& data,
                                               const std::vector<PulseState>& states) const {
        const double swept_m3 = displacement_m3(p_.geometry);
        const std::size_t k = data.size() / 2;
        const bool lower = p_.ratio_known && !setup.ratio_known;
        const double first_ratio = 1 + (lower ? lower_ratio_start : 1) * (p_.geometry.compression_ratio - 1);
        CylinderState best;
        double least = 0;
        for (const double inertia : inertia_starts_kg_m2_per_m3) {
            CylinderState c;
            c.leak_m2 = leak_m2;
            c.heat_w_m2k = 100;
            c.inertia_kg_m2 = inertia * swept_m3;
            c.friction_nm = 5e4 * swept_m3;
            c.ambient_pa = setup.ambient_pa.mean;
            c.intake_pa = setup.intake_pa - setup.offset_pa.mean;
            c.compression_ratio = first_ratio;
            c.swing.assign(table_.splines, 0);
            const double cost =
                fit(setup, {data[k]}, c, setup.offset_pa.mean, {states[k]}, look_steps, true).cost;
            if (least == 0 || cost < least) {
                least = cost;
                best = c;
            }
        }
        return best;
    }
    FitResult fit_shared(const FitSetup& setup, const std::vector<std::size_t>& used) const {
        std::vector<PulseData> data;
        std::vector<PulseState> states;
        for (const std::size_t k : used) {
            states.push_back(first_state(k));
            data.push_back(take(states.back().tdc_s - seconds(first_look_deg),
                                states.back().tdc_s + seconds(first_look_deg), period_s(k)));
            weigh_first(data.back());
        }
        FitResult best;
        bool have = false;
        for (const double leak_m2 : leak_starts_m2) {
            const CylinderState c = first_cylinder(setup, leak_m2, data, states);
            FitResult now = fit(setup, data, c, setup.offset_pa.mean, states, first_steps);
            if (!have || now.cost < best.cost) best = std::move(now);
            have = true;
        }
        for (int pass = 0; pass < 3 && finite(best); ++pass) {
            for (std::size_t i = 0; i < data.size(); ++i)
                data[i] = retake(best.curves[i], data[i].period_s, data.size(), pass == 0);
            best = fit(setup, data, best.cylinder, best.offset_pa, best.pulses,
                       pass == 2 ? last_steps : later_steps);
        }
        return best;
    }
    /// A bent rod, a worn piston or a figure from another engine's book.
    void try_lower_ratio(Solution& s) const {
        FitSetup free = setup_;
        free.ratio_known = false;
        free.usual_ratio = setup_.geometry.compression_ratio;
        FitResult own = fit_shared(free, s.used);
        const double lower = std::log((free.usual_ratio - 1) / (own.cylinder.compression_ratio - 1));
        const double sunk_strokes = 1 / (own.cylinder.compression_ratio - 1) - 1 / (free.usual_ratio - 1);
        if (!finite(own) || lower < lower_ratio_log || sunk_strokes > most_sunk_strokes ||
            own.misfit > eased_misfit ||
            own.strain_sd > std::min(eased_to_sd, s.shared.strain_sd - eased_sd) ||
            s.shared.cost - own.cost < lower_ratio_gain)
            return;
        s.shared = std::move(own);
        s.ratio_fitted = true;
    }
    /// Readings well inside the table as the curve has it, weighed.
    [[nodiscard]] PulseData retake(const GasCurve& curve, double period, std::size_t pulses,
                                   bool narrow) const {
        const std::size_t margin = narrow ? 3 : 1;
        PulseData d = take(curve.time_s[margin], curve.time_s[curve.time_s.size() - 1 - margin], period);
        weigh(d, curve, pulses);
        return d;
    }
    void fit_alone(Solution& s, std::size_t k, double model_sd_s) const {
        PulseState state = first_state(k);
        const auto& reference = s.shared.pulses.front();
        const double lag_s = reference.tdc_s - train_.pulses[s.used.front()].peak_s;
        state.tdc_s = train_.pulses[k].peak_s + lag_s;
        state.start_pa = reference.start_pa;
        state.speed_rad_s = reference.speed_rad_s * *train_.period_s / period_s(k);
        if (end_s_ < train_.pulses[k].peak_s + seconds(least_after_peak_deg)) return;
        GasCurve curve;
        run_curve(s, state, curve);
        if (!finite(curve)) return;  // a poor fit whose crank stops, all charge leaking out meanwhile
        PulseData d = retake(curve, period_s(k), 1, true);
        if (d.time_s.size() < 20) return;
        FitResult own = fit(setup_, {d}, s.shared.cylinder, s.shared.offset_pa, {state}, later_steps, true);
        s.pulses[k] = own.pulses.front();
        s.curves[k] = own.curves.front();
        // What the shared unknowns leave open is the same for every pulse.
        s.tdc_sd_s[k] = std::hypot(pressure::tdc_sd_s(own, 0), pressure::tdc_sd_s(s.shared, 0), model_sd_s);
    }
    static void run_curve(const Solution& s, const PulseState& state, GasCurve& curve) {
        pressure::run(s.table, s.shared.cylinder, state, curve);
    }

    const Pressure& p_;
    const PulseTrain& train_;
    FitSetup setup_;
    StrokeTable table_;
    double mean_speed_ = 0;
    double noise_pa_ = 0;
    double start_pa_ = 0;
    double end_s_ = 0;
};

}  // namespace

std::optional<Solution> solve(const Pressure& result, const PulseTrain& train) {
    return Solver(result, train).run();
}

}  // namespace evenstroke::pressure
