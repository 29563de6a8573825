#include "interval.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "evenstroke/engine.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::contribution {

namespace {

constexpr double one_sided_95 = 0.95;
/// signal::normal_95 with more digits: the intervals were learnt, and are checked, with these.
constexpr double exact_normal_95 = 1.959964;
/// Scatter of one cycle's contribution that is assumed where a single cycle cannot tell it, points: above
/// what most cranked engines show (common practice, no published source).
constexpr double assumed_scatter_points = 3;

// What the model lacks (wall heat, pumping, valve timing, play in the gears) was learnt on engines of the
// project's own synth, drawn from all its families (docs/accuracy.md): standard deviations, points. Errors
// come in clusters, an engine that the model follows badly errs in several cylinders: these are wide enough
// for 95 %. The parts for a loss of charge and for one that stands out were chosen on seeds 8701 to 8720 and
// hold on 8801 to 8820; that they were missing showed on a simulator of another make.

/// The fit's covariance takes the whole misfit for noise, each place for itself. What leads it astray is the
/// slow part, alike over many degrees: so much of that part's share of the covariance's standard deviation.
constexpr double open_ratio = 1.9;
/// No model is followed better than this share of the swing.
constexpr double least_slow_misfit_share = 0.001;
/// Single cycles scatter about the mean by more than chance alone: an uneven one is not alike in all
/// cylinders.
constexpr double scatter_ratio = 1.3;
/// Of every cylinder.
constexpr double model_error_points = 0.25;
/// For every point that the cylinder itself, or the worst other one, has lost: a leak is not quite the leak
/// of the model, and what it is not goes to the neighbours.
/// The speed alone tells a leak from a loss of charge less well than the load does (chosen on seeds 7001 to
/// 7012).
constexpr double error_per_own_loss = 0.06, error_per_own_loss_seen_in_speed = 0.1,
                 error_per_other_loss = 0.02;
/// For every point lost for want of charge or compression ratio: a low ratio takes more of the peak than of
/// the torque, low charge alike of both, and the trace hardly tells them apart.
/// A large loss is one of charge: no piston is so short.
constexpr double error_per_charge_loss = 0.1, most_charge_loss_points = 20;
/// No cylinder compresses better than its sound fellows. Where the highest stands above the middle of those
/// by more than they usually spread, so much of the rest may be the fit's doing, and the others be higher.
constexpr double excess_ratio = 0.5, usual_excess_points = 2;
/// Sound, for that, is what was found above this percentage of the highest.
constexpr double least_sound_pct = 80;
/// Uneven firing intervals give every cylinder its own place on the model's errors; up to three cylinders
/// coast for a third of the cycle and more, and settle the shared drive least.
constexpr double odd_firing_ratio = 1.15, few_cylinders_ratio = 1.15;
constexpr Eigen::Index few_cylinders = 3;

/// The highest found need not be the highest that is: the better the others come off by chance, the less of
/// the true highest it has. Low end of its one-sided 95 % interval, from the others' percentages of it and
/// their standard deviations; errors taken as independent, which makes the highest of the others higher.
double least_of_best_pct(const Eigen::ArrayXd& pct, const Eigen::ArrayXd& sd, Eigen::Index best) {
    const auto chance_that_all_stay_below = [&](double limit_pct) {
        double chance = 1;
        for (Eigen::Index c = 0; c < pct.size(); ++c)
            if (c != best && sd[c] > 0)
                chance *= 0.5 * std::erfc(-(limit_pct - pct[c]) / sd[c] / std::numbers::sqrt2);
        return chance;
    };
    double below_pct = 100, above_pct = 1000;
    if (chance_that_all_stay_below(below_pct) >= one_sided_95) return 100;
    while (above_pct - below_pct > 1e-3) {
        const double middle_pct = 0.5 * (below_pct + above_pct);
        (chance_that_all_stay_below(middle_pct) < one_sided_95 ? below_pct : above_pct) = middle_pct;
    }
    return 100 * 100 / above_pct;
}

/// Each cycle's peaks: what its departure from the mean cycle says, through the linearised fit.
Eigen::ArrayXXd peaks_by_cycle(const FitResult& fit, const CycleAverage& average) {
    Eigen::ArrayXXd peaks(average.cycles.rows(), fit.peak.size());
    for (Eigen::Index k = 0; k < average.cycles.rows(); ++k) {
        const Eigen::ArrayXd cycle = average.cycles.row(k).transpose();
        Eigen::VectorXd departure(fit.node_share.size());
        for (Eigen::Index node = 0; node < departure.size(); ++node)
            departure[node] =
                at_share(cycle, fit.node_share[node]) - at_share(average.mean, fit.node_share[node]);
        peaks.row(k) = (fit.peak.matrix() + fit.gain * departure).transpose();
    }
    return peaks;
}

/// What the scatter between cycles leaves of a cylinder's mean, points: pooled over cylinders, and as much
/// wider than a normal standard deviation as Student's t asks.
double sd_of_mean(const Eigen::ArrayXXd& by_cycle_pct) {
    const auto cycles = static_cast<double>(by_cycle_pct.rows());
    if (cycles < 2) return assumed_scatter_points;
    const double degrees = (cycles - 1) * static_cast<double>(by_cycle_pct.cols());
    const double variance = (by_cycle_pct.rowwise() - by_cycle_pct.colwise().mean()).square().sum() / degrees;
    return signal::student_t_quantile(signal::two_sided_95, degrees) / exact_normal_95 *
           std::sqrt(variance / cycles);
}

/// How far the highest stands above its sound fellows, beyond what their spread explains; 0 with fewer than
/// two.
double excess_points(const Eigen::ArrayXd& pct, Eigen::Index best) {
    std::vector<double> sound;
    for (Eigen::Index c = 0; c < pct.size(); ++c)
        if (c != best && pct[c] > least_sound_pct) sound.push_back(pct[c]);
    return sound.size() < 2 ? 0 : std::max(0.0, 100 - signal::median(std::move(sound)) - usual_excess_points);
}

/// What each cylinder compresses less than the highest for want of charge or compression ratio, points.
Eigen::ArrayXd charge_lost_points(const EngineModel& model) {
    const auto cylinders = static_cast<Eigen::Index>(model.cylinders.size());
    Eigen::ArrayXd sealed(cylinders);
    for (Eigen::Index c = 0; c < cylinders; ++c) {
        const CylinderGas& gas = model.cylinders[static_cast<std::size_t>(c)];
        sealed[c] =
            gas.charge_ratio * std::pow(sealed_volume_ratio(gas.compression_ratio), polytropic_exponent) - 1;
    }
    return 100 - 100 * sealed / sealed.maxCoeff();
}

}  // namespace

Contributions contributions_of(const FitResult& fit, const CycleAverage& average, bool even_firing,
                               Seen seen) {
    Contributions out;
    Eigen::Index best = 0;
    const double highest = fit.peak.maxCoeff(&best);
    out.pct = (100 * fit.peak / highest).min(100.0);
    out.pct[best] = 100;  // rounding may put the highest a digit beside itself, and so outside its interval
    // A cycle that is harder or easier as a whole says nothing about one cylinder against another.
    out.by_cycle_pct = 100 * peaks_by_cycle(fit, average) / highest;
    for (Eigen::Index k = 0; k < out.by_cycle_pct.rows(); ++k) {
        const double level = (out.by_cycle_pct.row(k).transpose() * out.pct).sum() / out.pct.square().sum();
        if (level > 0) out.by_cycle_pct.row(k) /= level;
    }
    const auto cylinders = out.pct.size();
    const double from_scatter = sd_of_mean(out.by_cycle_pct);
    const double slow_share =
        std::min(1.0, std::max(fit.slow_misfit_rms, least_slow_misfit_share * fit.swing) /
                          std::max(fit.misfit_rms, least_slow_misfit_share * fit.swing));
    const double ratio =
        (even_firing ? 1 : odd_firing_ratio) * (cylinders <= few_cylinders ? few_cylinders_ratio : 1);
    const double per_own_loss = seen == Seen::speed ? error_per_own_loss_seen_in_speed : error_per_own_loss;
    const Eigen::ArrayXd lost = 100 - out.pct;
    const Eigen::ArrayXd charge_lost = charge_lost_points(fit.model);
    Eigen::ArrayXd sd = Eigen::ArrayXd::Zero(cylinders);
    for (Eigen::Index c = 0; c < cylinders; ++c) {
        if (c == best) continue;
        double others_lost = 0;
        for (Eigen::Index k = 0; k < cylinders; ++k)
            if (k != c) others_lost = std::max(others_lost, lost[k]);
        const Eigen::VectorXd slope =
            (fit.peak_slope.row(c) - out.pct[c] / 100 * fit.peak_slope.row(best)).transpose() / highest * 100;
        const double open =
            open_ratio * slow_share * std::sqrt(std::max(0.0, slope.dot(fit.covariance * slope)));
        double variance = model_error_points * model_error_points;
        for (const double part :
             {scatter_ratio * from_scatter, open, per_own_loss * lost[c],
              error_per_charge_loss *
                  std::clamp(charge_lost[c], 0.0, std::min(lost[c], most_charge_loss_points)),
              error_per_other_loss * others_lost})
            variance += part * part;
        sd[c] = ratio * std::sqrt(variance);
    }
    const Eigen::ArrayXd up = excess_ratio * excess_points(out.pct, best) * out.pct / 100;
    out.low_pct = (out.pct - exact_normal_95 * sd).max(0.0);
    out.high_pct = (out.pct + exact_normal_95 * (sd.square() + up.square()).sqrt()).min(100.0);
    out.low_pct[best] = least_of_best_pct(out.pct, (sd.square() + up.square()).sqrt(), best);
    out.high_pct[best] = 100;
    if (fit.least_ratio.size() > 0) {
        out.low_pct = (out.low_pct - (out.pct - 100 * fit.least_ratio).max(0.0)).max(0.0);
        out.high_pct = (out.high_pct + (100 * fit.most_ratio - out.pct).max(0.0)).min(100.0);
    }
    if (missed_share(fit) > hopeless_misfit_share) open_all(out.low_pct, out.high_pct);
    return out;
}

}  // namespace evenstroke::contribution
