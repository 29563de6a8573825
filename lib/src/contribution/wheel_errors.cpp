#include "wheel_errors.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "signal/linear.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// A wheel that runs out of true, or whose teeth lean, changes the speed once or twice a turn by about this
/// share: 0.3 degrees of runout are 0.005. It comes back every turn and no averaging removes it. From the
/// geometry; common practice, no published source.
constexpr double wheel_form_share = 0.005;
/// The starter's pull is known to within about this factor.
constexpr double starter_rate_doubt = 1.6;
/// Places around the cycle at which the residual is compared between cycles: a tooth of a fine wheel each.
constexpr int places_a_cycle = 120;

/// With hardly a cycle to compare: the residual as a first-order process, the worst its likeness allows.
Eigen::MatrixXd single_covariance(const Eigen::MatrixXd& matrix, const Eigen::MatrixXd& inverse,
                                  const Eigen::VectorXd& residual) {
    const double lag = residual.head(residual.size() - 1).dot(residual.tail(residual.size() - 1)) /
                       std::max(residual.squaredNorm(), 1e-300);
    const double likeness = std::clamp(lag, 0.0, 0.95);
    const double freedom = std::max<double>(1, static_cast<double>(matrix.rows() - matrix.cols()));
    return inverse * (residual.squaredNorm() / freedom * (1 + likeness) / (1 - likeness));
}

/// With cycles to compare: the residual as it is, alike over up to one firing interval (Newey & West,
/// Econometrica 55, 1987, 703; from memory), so that only what looks like a compression widens the interval.
Eigen::MatrixXd repeated_covariance(const WheelMotion& motion, const Eigen::MatrixXd& matrix,
                                    const Eigen::MatrixXd& inverse, const Eigen::VectorXd& residual) {
    const double intervals = motion.turned_deg() / cycle_deg * static_cast<double>(motion.tdc_deg.size());
    const auto reach = static_cast<Eigen::Index>(std::ceil(static_cast<double>(matrix.rows()) / intervals));
    const Eigen::MatrixXd pull = residual.asDiagonal() * matrix;
    Eigen::MatrixXd middle = pull.transpose() * pull;
    for (Eigen::Index lag = 1; lag <= reach && lag < pull.rows(); ++lag) {
        const double weight = 1 - static_cast<double>(lag) / static_cast<double>(reach + 1);
        const Eigen::MatrixXd cross =
            pull.topRows(pull.rows() - lag).transpose() * pull.bottomRows(pull.rows() - lag);
        middle += weight * (cross + cross.transpose());
    }
    const double freedom = std::max<double>(1, static_cast<double>(matrix.rows() - matrix.cols()));
    return inverse * middle * inverse * (static_cast<double>(matrix.rows()) / freedom);
}

/// How much greater the residual makes the variances because it comes back in every cycle, as what the model
/// lacks does: that part does not average out, however many cycles there are. 1 where nothing comes back.
double repeated_factor(const WheelMotion& motion, const Eigen::VectorXd& residual, double phase_deg) {
    Eigen::ArrayXd sums = Eigen::ArrayXd::Zero(places_a_cycle);
    Eigen::ArrayXd counts = Eigen::ArrayXd::Zero(places_a_cycle);
    std::vector<Eigen::Index> place_of(static_cast<std::size_t>(residual.size()));
    for (Eigen::Index k = 0; k < residual.size(); ++k) {
        const auto tooth = static_cast<std::size_t>(k);
        const double middle = (motion.angle_deg[tooth] + motion.angle_deg[tooth + 1]) / 2 - phase_deg;
        const double share = middle / cycle_deg - std::floor(middle / cycle_deg);
        const auto place =
            std::min(static_cast<Eigen::Index>(share * places_a_cycle), Eigen::Index{places_a_cycle - 1});
        place_of[tooth] = place;
        sums[place] += residual[k];
        counts[place] += 1;
    }
    double within = 0;
    for (Eigen::Index k = 0; k < residual.size(); ++k) {
        const Eigen::Index place = place_of[static_cast<std::size_t>(k)];
        within += std::pow(residual[k] - sums[place] / counts[place], 2);
    }
    const double freedom = static_cast<double>(residual.size()) - static_cast<double>((counts > 0).count());
    const double cycles = motion.turned_deg() / cycle_deg;
    const double total = residual.squaredNorm() / static_cast<double>(residual.size());
    if (!(freedom > 0) || !(total > 0) || !(cycles > 1)) return 1;
    const double share = std::clamp(1 - within / freedom / total, 0.0, 1.0);
    return 1 + share * (cycles - 1);
}

}  // namespace

Errors errors_of(const WheelMotion& motion, const LinearFit& fit, const std::vector<Event>& events,
                 const std::vector<double>& by_event) {
    const auto cylinders = static_cast<Eigen::Index>(motion.tdc_deg.size());
    std::vector<int> columns;
    for (const Event& event : events) columns.push_back(event.position);
    const Eigen::MatrixXd matrix =
        design(motion, events, columns, static_cast<int>(cylinders), fit.starter_rate_hz);
    const Eigen::VectorXd residual = motion.rad_per_s - fit.model;
    const Eigen::MatrixXd inverse = signal::pseudo_inverse(matrix.transpose() * matrix);

    Eigen::ArrayXd sums = Eigen::ArrayXd::Zero(cylinders);
    Eigen::ArrayXd counts = Eigen::ArrayXd::Zero(cylinders);
    for (std::size_t e = 0; e < events.size(); ++e)
        if (std::isfinite(by_event[e])) {
            sums[events[e].position] += by_event[e];
            counts[events[e].position] += 1;
        }
    double scatter = 0;
    for (std::size_t e = 0; e < events.size(); ++e)
        if (std::isfinite(by_event[e]))
            scatter += std::pow(by_event[e] - sums[events[e].position] / counts[events[e].position], 2);
    Errors errors;
    const double repeats = (counts - 1).max(0).sum();
    errors.degrees = std::max(repeats, 3.0);
    const Eigen::MatrixXd covariance = repeats >= static_cast<double>(cylinders)
                                           ? repeated_covariance(motion, matrix, inverse, residual)
                                           : single_covariance(matrix, inverse, residual);
    const double comes_back = repeated_factor(motion, residual, fit.phase_deg);
    const double between = repeats > 0 ? scatter / repeats : 0;
    const LinearFit fast = fit_at(motion, fit.phase_deg, fit.starter_rate_hz * starter_rate_doubt);
    const LinearFit slow = fit_at(motion, fit.phase_deg, fit.starter_rate_hz / starter_rate_doubt);
    const double top = fit.strength.maxCoeff();
    errors.standard_error = Eigen::VectorXd(cylinders);
    for (Eigen::Index i = 0; i < cylinders; ++i) {
        const double starter = top *
                               (fast.strength[i] / std::max(fast.strength.maxCoeff(), 1e-9) -
                                slow.strength[i] / std::max(slow.strength.maxCoeff(), 1e-9)) /
                               2;
        const double swing = matrix.col(i).maxCoeff() - matrix.col(i).minCoeff();
        const double form = wheel_form_share * motion.rad_per_s.mean() / std::max(swing, 1e-9);
        const double noise = std::max(0.0, covariance(i, i));
        const double others = between / std::max(1.0, counts[i]) + starter * starter + form * form;
        errors.standard_error[i] = std::sqrt(noise * comes_back + others);
        errors.chance += std::sqrt(noise + others) / static_cast<double>(cylinders);
    }
    return errors;
}

}  // namespace evenstroke::contribution::wheel
