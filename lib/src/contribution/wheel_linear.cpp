#include "wheel_linear.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "signal/linear.hpp"
#include "signal/statistics.hpp"
#include "wheel_errors.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// Strength is intake pressure * displacement of a cylinder / inertia. Road engines lie between about 15
/// (0.8 l against 5 kg m²) and some hundreds 1/s² (0.3 l against 0.1). Reciprocating masses alone imitate 1
/// to 5 with nothing compressing.
constexpr double least_strength_per_s2 = 8.0;
/// The compressions together must stand out of the scatter by this many standard errors.
constexpr double least_significance = 4.0;
/// A compression counts as seen when so much before and after its TDC lies in the stretch.
constexpr double seen_before_deg = 90.0;
constexpr double seen_after_deg = 30.0;
/// What the one strength of this model misses of a fault's shape (a leak takes the top of the pressure but
/// less of the torque), as a share of the shortfall; judged from the physics, not measured.
constexpr double shape_doubt = 0.15;
/// Compressions closer than this overlap so far that what the model lacks passes from one cylinder to the
/// next without showing in the residual: the interval is widened in proportion, up to the factor below.
/// Learnt on engines that the synth draws (docs/accuracy.md).
constexpr double apart_deg = 165.0;
constexpr double most_overlap_factor = 3.0;

/// Widening where a compression overlaps with those beside it, by its mean distance from the two.
double overlap_factor(const EngineLayout& layout, std::size_t position) {
    const auto& intervals = layout.intervals_deg;
    const std::size_t before = (position + intervals.size() - 1) % intervals.size();
    return std::clamp(2 * apart_deg / (intervals[before] + intervals[position]), 1.0, most_overlap_factor);
}

bool seen(const WheelMotion& motion, const Event& event) {
    return event.tdc_deg - seen_before_deg >= motion.angle_deg.front() &&
           event.tdc_deg + seen_after_deg <= motion.angle_deg.back();
}

/// Strength of every compression by itself; NaN where it is not seen whole.
std::vector<double> strength_by_event(const WheelMotion& motion, const LinearFit& fit,
                                      const std::vector<Event>& events) {
    std::vector<int> columns(events.size());
    for (std::size_t e = 0; e < events.size(); ++e) columns[e] = static_cast<int>(e);
    const Eigen::MatrixXd matrix =
        design(motion, events, columns, static_cast<int>(events.size()), fit.starter_rate_hz);
    std::vector<double> strength(events.size(), std::numeric_limits<double>::quiet_NaN());
    if (matrix.rows() <= matrix.cols()) return strength;
    const Eigen::VectorXd all = signal::least_squares(matrix, motion.rad_per_s);
    for (std::size_t e = 0; e < events.size(); ++e)
        if (seen(motion, events[e])) strength[e] = all[static_cast<Eigen::Index>(e)];
    return strength;
}

}  // namespace

bool strong(const LinearFit& fit) {
    return fit.strength.maxCoeff() >= least_strength_per_s2;
}

bool compresses(const WheelMotion& motion, const LinearFit& fit) {
    if (!strong(fit)) return false;
    const std::vector<Event> events = compressions_of(motion, fit.phase_deg);
    const Errors errors = errors_of(motion, fit, events, strength_by_event(motion, fit, events));
    return fit.strength.mean() * std::sqrt(static_cast<double>(fit.strength.size())) >=
           least_significance * errors.chance;
}

Answer linear_answer(const WheelMotion& motion, const EngineLayout& layout, const LinearFit& fit) {
    Answer out;
    out.phase_deg = fit.phase_deg;
    out.rad_per_s = fit.model;
    out.events = compressions_of(motion, fit.phase_deg);
    const std::vector<double> by_event = strength_by_event(motion, fit, out.events);
    const Errors errors = errors_of(motion, fit, out.events, by_event);
    Eigen::Index top = 0;
    const double highest = fit.strength.maxCoeff(&top);
    for (const double strength : by_event) out.by_event_pct.push_back(100 * strength / highest);
    const double quantile = signal::student_t_quantile(signal::two_sided_95, errors.degrees);
    const Eigen::ArrayXd share = (fit.strength.array() / highest).max(0.0);
    Eigen::ArrayXd half(share.size());
    for (Eigen::Index i = 0; i < share.size(); ++i) {
        const double own = errors.standard_error[i] / highest;
        const double reference = i == top ? 0.0 : share[i] * errors.standard_error[top] / highest;
        const double shape = shape_doubt * (1 - share[i]);
        const double times = quantile * overlap_factor(layout, static_cast<std::size_t>(i));
        half[i] = std::sqrt(times * times * (own * own + reference * reference) +
                            signal::normal_95 * signal::normal_95 * shape * shape);
    }
    out.pct = 100 * share;
    out.low_pct = 100 * (share - half).max(0.0);
    out.high_pct = 100 * (share + half).min(1.0);
    return out;
}

}  // namespace evenstroke::contribution::wheel
