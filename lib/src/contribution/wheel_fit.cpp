#include "wheel_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "fit_search.hpp"
#include "settle.hpp"
#include "shut_exhaust.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// A speed shows more of the engine than a load, and less noise: the trials see it more sharply.
constexpr double speed_trial_noise_shares[] = {0.5 * usual_trial_noise_share, usual_trial_noise_share,
                                               0.2 * usual_trial_noise_share};

/// Speed between the middles of neighbouring teeth, as densely as the folded cycle has places: each stretch
/// of the cycle then counts by its time, not by its number of teeth. In a gap only the mean speed is known,
/// which hides what a compression does there: not usable, as far as the middles of the teeth beside it.
LoadSamples dense(const WheelMotion& motion) {
    LoadSamples samples;
    const double turned_s = motion.time_s.back() - motion.time_s.front();
    const double step_s = turned_s / (motion.turned_deg() / cycle_deg * fold_places);
    const auto middle_s = [&](std::size_t tooth) {
        return (motion.time_s[tooth] + motion.time_s[tooth + 1]) / 2;
    };
    const Pitches pitches = pitches_of(motion);
    const auto teeth = static_cast<std::size_t>(motion.rad_per_s.size());
    std::size_t low = 0;
    for (double t = middle_s(0); t < middle_s(teeth - 1); t += step_s) {
        while (low + 2 < teeth && middle_s(low + 1) <= t) ++low;
        const double part = (t - middle_s(low)) / (middle_s(low + 1) - middle_s(low));
        const auto at = static_cast<Eigen::Index>(low);
        samples.time_s.push_back(t);
        samples.load.push_back(motion.rad_per_s[at] * (1 - part) + motion.rad_per_s[at + 1] * part);
        samples.usable.push_back(!pitches.gap(low) && !pitches.gap(low + 1));
    }
    return samples;
}

/// The share of the samples between two times that are usable, at each place of the cycle; 0 where there are
/// none.
Eigen::ArrayXd usable_share(const LoadSamples& samples, const PhaseMap& phases, double from_s, double to_s) {
    Eigen::ArrayXd usable = Eigen::ArrayXd::Zero(fold_places), all = Eigen::ArrayXd::Zero(fold_places);
    for (std::size_t k = 0; k < samples.time_s.size(); ++k) {
        if (samples.time_s[k] < from_s || samples.time_s[k] > to_s) continue;
        const double phase = phases.phase(samples.time_s[k]);
        const auto place = std::min(static_cast<Eigen::Index>((phase - std::floor(phase)) * fold_places),
                                    Eigen::Index{fold_places - 1});
        all[place] += 1;
        usable[place] += samples.usable[k];
    }
    return (all > 0).select(usable / all.max(1.0), 0.0);
}

/// What each compression's cycle, through the linearised fit, makes of it.
std::vector<double> by_event_pct(const WheelMotion& motion, const std::vector<Event>& events,
                                 const SpeedCycle& cycle, const Eigen::ArrayXXd& by_cycle_pct) {
    std::vector<double> all;
    for (const Event& event : events) {
        const double phase = cycle.phases.phase(time_at(motion, event.tdc_deg)) - cycle.average.first_phase;
        const auto k = static_cast<Eigen::Index>(std::floor(phase));
        all.push_back(phase >= 0 && k < by_cycle_pct.rows() ? by_cycle_pct(k, event.position)
                                                            : std::numeric_limits<double>::quiet_NaN());
    }
    return all;
}

/// The model's speed at the middle of each tooth.
Eigen::VectorXd speed_of_teeth(const WheelMotion& motion, const ModelCycle& cycle, double phase_deg) {
    Eigen::VectorXd speed(motion.rad_per_s.size());
    for (Eigen::Index k = 0; k < speed.size(); ++k) {
        const auto tooth = static_cast<std::size_t>(k);
        const double middle_deg = (motion.angle_deg[tooth] + motion.angle_deg[tooth + 1]) / 2 - phase_deg;
        speed[k] = at_degree(cycle.speed_rad_s, middle_deg);
    }
    return speed;
}

}  // namespace

std::optional<SpeedCycle> speed_cycle(const WheelMotion& motion, double from_s, double phase_deg) {
    CrankAngle angle;
    angle.time_s = motion.time_s;
    for (const double deg : motion.angle_deg) angle.angle_deg.push_back(deg - phase_deg);
    const std::optional<PhaseMap> phases = phase_map(angle);
    if (!phases) return std::nullopt;
    const LoadSamples samples = dense(motion);
    const AlikeCycles alike = fold_alike(samples, *phases, from_s, motion.time_s.back());
    SpeedCycle out{.phases = *phases, .average = alike.average, .trust = {}};
    if (!(out.average.span_cycles >= fewest_cycles) || !out.average.mean.allFinite()) return std::nullopt;
    out.trust = usable_share(samples, *phases, alike.from_s, alike.to_s);
    return out;
}

SpeedFit fit_speed(const WheelMotion& motion, const EngineLayout& layout, const SpeedCycle& cycle,
                   double phase_deg, double phase_sd_deg, bool thorough) {
    FitData data;
    data.seen = cycle.average.mean;
    data.trust = cycle.trust;
    data.seen_is = Seen::speed;
    data.period_s = cycle.average.period_s;
    data.offset_sd_deg = phase_sd_deg;
    const std::span<const double> noise_shares = speed_trial_noise_shares;
    const FitResult fit = fit_or_retry(data, layout, {0.0}, thorough ? noise_shares : noise_shares.first(1));
    const Contributions found = contributions_of(fit, cycle.average, layout.fires_evenly(), Seen::speed);
    SpeedFit out{.answer = {}, .cost = fit.cost, .misfit_share = missed_share(fit)};
    Answer& answer = out.answer;
    answer.phase_deg = phase_deg + fit.model.cylinders[0].firing_deg;
    answer.pct = found.pct;
    answer.low_pct = found.low_pct;
    answer.high_pct = found.high_pct;
    answer.exhaust_shut = exhaust_shut(fit);
    if (answer.exhaust_shut)
        doubt_shut(*answer.exhaust_shut, layout, answer.pct, answer.low_pct, answer.high_pct);
    answer.events = compressions_of(motion, answer.phase_deg);
    answer.by_event_pct = by_event_pct(motion, answer.events, cycle, found.by_cycle_pct);
    answer.rad_per_s = speed_of_teeth(motion, fit.cycle, phase_deg);
    return out;
}

}  // namespace evenstroke::contribution::wheel
