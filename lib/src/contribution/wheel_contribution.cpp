#include "wheel_contribution.hpp"

#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "angle/wheel.hpp"
#include "signal/linear.hpp"
#include "signal/statistics.hpp"
#include "wheel_errors.hpp"
#include "wheel_model.hpp"

namespace evenstroke {

namespace {

using wheel::Errors;
using wheel::Event;
using wheel::Fit;
using wheel::Motion;

/// Fewer teeth in a firing interval than this cannot carry a compression's height, place and baseline.
constexpr double least_teeth_per_interval = 4.0;
/// Fewer settled cycles than this are stretched backwards into the run-up, down to this share of the speed.
constexpr double wanted_cycles = 2.0;
constexpr double run_up_share = 0.75;
/// Strength is intake pressure * displacement of a cylinder / inertia. Road engines lie between about 15
/// (0.8 l against 5 kg m²) and some hundreds 1/s² (0.3 l against 0.1). Reciprocating masses alone imitate 1
/// to 5 with nothing compressing.
constexpr double least_strength_per_s2 = 8.0;
/// The compressions together must stand out of the scatter by this many standard errors.
constexpr double least_significance = 4.0;
/// A compression counts as seen when so much before and after its TDC lies in the stretch.
constexpr double seen_before_deg = 90.0;
constexpr double seen_after_deg = 30.0;
/// Faster than any starter turns a warm engine: this runs, or is driven.
constexpr double fastest_cranking_rpm = 450.0;
/// What the one strength of this model misses of a fault's shape (a leak takes the top of the pressure but
/// less of the torque), as a share of the shortfall; judged from the physics, not measured.
constexpr double shape_doubt = 0.15;
constexpr double confidence_two_sided = 0.975;
constexpr double normal_quantile = 1.96;
/// A rival place of the intervals is excluded when it is 20 times unlikelier (2 ln 20) and its squares are
/// greater by this factor: below that what the model lacks decides between the two. Of 95 odd-firing engines
/// drawn by the synth (seeds 600 to 623) the wrong place had won in four, by at most 1.40.
constexpr double doubtful_cost = 6.0;
constexpr double doubtful_squares_ratio = 1.5;
/// Closer compressions than this overlap fivefold (valves are shut for some 260 degrees): one in a thousand
/// healthy cylinders of drawn tens with 54 degrees was condemned, so no verdict is given.
constexpr double least_interval_deg = 60.0 - 0.5;
/// Compressions closer than this overlap so far that what the model lacks passes from one cylinder to the
/// next without showing in the residual: the interval is widened in proportion, up to the factor below.
/// Learnt on engines that the synth draws (docs/accuracy.md).
constexpr double apart_deg = 165.0;
constexpr double most_overlap_factor = 3.0;
/// Where the intervals must find their own place in the cycle: a compression that speeds the crank up by more
/// than this share of what the strongest slows it down, because the place is wrong or the cylinder is dead.
/// Of 190 engines drawn by the synth (seeds 600 to 611) four went below, all of them wrong by 37 points or
/// more.
constexpr double most_negative_ratio = -0.15;
constexpr double rpm_per_rad_per_s = 30 / pi;

/// Widening where a compression overlaps with those beside it, by its mean distance from the two.
double overlap_factor(const EngineLayout& layout, std::size_t position) {
    const auto& intervals = layout.intervals_deg;
    const std::size_t before = (position + intervals.size() - 1) % intervals.size();
    return std::clamp(2 * apart_deg / (intervals[before] + intervals[position]), 1.0, most_overlap_factor);
}

std::size_t first_tooth(const CrankAngle& angle, const Cranking& cranking, double interval_deg) {
    const auto settled = std::lower_bound(angle.time_s.begin(), angle.time_s.end(), cranking.settled_s);
    auto first = static_cast<std::size_t>(settled - angle.time_s.begin());
    first = std::min(first, angle.time_s.size() - 2);
    const double wanted = angle.angle_deg.back() - wanted_cycles * cycle_deg;
    while (first > 0 && angle.angle_deg[first] > wanted) {
        const auto ahead = std::lower_bound(angle.angle_deg.begin(), angle.angle_deg.end(),
                                            angle.angle_deg[first - 1] + interval_deg);
        if (ahead == angle.angle_deg.end()) break;
        const auto k = static_cast<std::size_t>(ahead - angle.angle_deg.begin());
        const double rpm = (angle.angle_deg[k] - angle.angle_deg[first - 1]) / 6 /
                           (angle.time_s[k] - angle.time_s[first - 1]);
        if (rpm < run_up_share * angle.speed_rpm) break;
        --first;
    }
    return first;
}

Motion motion_of(const CrankAngle& angle, std::size_t first, const EngineLayout& layout) {
    Motion motion;
    motion.time_s.assign(angle.time_s.begin() + static_cast<std::ptrdiff_t>(first), angle.time_s.end());
    motion.angle_deg.assign(angle.angle_deg.begin() + static_cast<std::ptrdiff_t>(first),
                            angle.angle_deg.end());
    const ToothSpeed speed = tooth_speed(motion.time_s, motion.angle_deg, true);
    motion.rad_per_s = Eigen::Map<const Eigen::VectorXd>(speed.rad_per_s.data(),
                                                         static_cast<Eigen::Index>(speed.rad_per_s.size()));
    motion.tdc_deg = layout.firing_tdc_deg();
    motion.repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    return motion;
}

bool seen(const Motion& motion, const Event& event) {
    return event.tdc_deg - seen_before_deg >= motion.angle_deg.front() &&
           event.tdc_deg + seen_after_deg <= motion.angle_deg.back();
}

/// Strength of every compression by itself; NaN where it is not seen whole.
std::vector<double> strength_by_event(const Motion& motion, const Fit& fit,
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

void fill_cylinders(const Motion& motion, const EngineLayout& layout, const Fit& fit, const Errors& errors,
                    const std::vector<Event>& events, const std::vector<double>& by_event,
                    Contribution& result) {
    Eigen::Index top = 0;
    const double highest = fit.strength.maxCoeff(&top);
    const double quantile = signal::student_t_quantile(confidence_two_sided, errors.degrees);
    result.cylinders.resize(motion.tdc_deg.size());
    for (std::size_t i = 0; i < result.cylinders.size(); ++i) {
        const auto at = static_cast<Eigen::Index>(i);
        CylinderContribution& cylinder = result.cylinders[i];
        for (std::size_t e = 0; e < events.size(); ++e)
            if (events[e].position == static_cast<int>(i) && std::isfinite(by_event[e])) ++cylinder.events;
        const double share = std::max(0.0, fit.strength[at] / highest);
        const double own = errors.standard_error[at] / highest;
        const double reference = at == top ? 0.0 : share * errors.standard_error[top] / highest;
        const double shape = shape_doubt * (1 - share);
        const double times = quantile * overlap_factor(layout, i);
        const double half = std::sqrt(times * times * (own * own + reference * reference) +
                                      normal_quantile * normal_quantile * shape * shape);
        cylinder.contribution_pct = 100 * share;
        cylinder.low_pct = 100 * std::max(0.0, share - half);
        cylinder.high_pct = 100 * std::min(1.0, share + half);
    }
}

double time_at(const Motion& motion, double angle_deg) {
    const auto next = std::lower_bound(motion.angle_deg.begin(), motion.angle_deg.end(), angle_deg);
    auto i = static_cast<std::size_t>(next - motion.angle_deg.begin());
    i = std::clamp<std::size_t>(i, 1, motion.angle_deg.size() - 1);
    const double share =
        (angle_deg - motion.angle_deg[i - 1]) / (motion.angle_deg[i] - motion.angle_deg[i - 1]);
    return motion.time_s[i - 1] + share * (motion.time_s[i] - motion.time_s[i - 1]);
}

/// Lowest speed near each TDC, highest since the compression before: for plots and the simple figure.
void fill_events(const Motion& motion, const Fit& fit, const std::vector<Event>& events,
                 const std::vector<double>& by_event, Contribution& result) {
    const double highest = fit.strength.maxCoeff();
    int first_cycle = std::numeric_limits<int>::max();
    int last_cycle = std::numeric_limits<int>::min();
    for (std::size_t e = 0; e < events.size(); ++e)
        if (std::isfinite(by_event[e])) {
            first_cycle = std::min(first_cycle, events[e].cycle);
            last_cycle = std::max(last_cycle, events[e].cycle);
        }
    const std::vector<double> none(result.cylinders.size(), std::numeric_limits<double>::quiet_NaN());
    result.by_cycle_pct.assign(static_cast<std::size_t>(std::max(0, last_cycle - first_cycle + 1)), none);
    std::vector<double> dips(motion.tdc_deg.size(), 0.0);
    for (std::size_t e = 0; e < events.size(); ++e) {
        if (!std::isfinite(by_event[e])) continue;
        const double before = e > 0 ? events[e].tdc_deg - events[e - 1].tdc_deg : 180.0;
        const double after = e + 1 < events.size() ? events[e + 1].tdc_deg - events[e].tdc_deg : before;
        CompressionEvent event;
        event.cycle = events[e].cycle - first_cycle;
        event.position = events[e].position;
        event.tdc_s = time_at(motion, events[e].tdc_deg);
        double low = std::numeric_limits<double>::infinity();
        double high = 0;
        for (Eigen::Index k = 0; k < motion.rad_per_s.size(); ++k) {
            const auto i = static_cast<std::size_t>(k);
            const double from_tdc = (motion.angle_deg[i] + motion.angle_deg[i + 1]) / 2 - events[e].tdc_deg;
            if (from_tdc < -before || from_tdc > after / 2) continue;
            const double rpm = motion.rad_per_s[k] * rpm_per_rad_per_s;
            if (from_tdc > -before / 2 && rpm < low) {
                low = rpm;
                event.peak_s = (motion.time_s[i] + motion.time_s[i + 1]) / 2;
            }
            if (from_tdc < 0) high = std::max(high, rpm);
        }
        event.peak = low;
        event.trough = high;
        event.contribution_pct = 100 * by_event[e] / highest;
        const auto position = static_cast<std::size_t>(event.position);
        result.by_cycle_pct[static_cast<std::size_t>(event.cycle)][position] = *event.contribution_pct;
        dips[position] += (high - low) / result.cylinders[position].events;
        result.events.push_back(event);
    }
    const double deepest = *std::max_element(dips.begin(), dips.end());
    if (!(deepest > 0)) return;
    for (std::size_t i = 0; i < dips.size(); ++i)
        if (result.cylinders[i].events > 0) result.cylinders[i].simple_pct = 100 * dips[i] / deepest;
}

/// Speed and model averaged over the cycles at whole degrees after position 0's TDC.
void fill_mean_cycle(const Motion& motion, const Fit& fit, Contribution& result) {
    constexpr int degrees = 720;
    std::vector<double> speed(degrees, 0.0);
    std::vector<double> model(degrees, 0.0);
    std::vector<double> counts(degrees, 0.0);
    std::size_t k = 0;
    for (double a = std::ceil(motion.angle_deg.front() - fit.phase_deg) + fit.phase_deg;
         a < motion.angle_deg.back(); a += 1) {
        while (k + 2 < motion.angle_deg.size() && motion.angle_deg[k + 1] <= a) ++k;
        double place = std::fmod(std::round(a - fit.phase_deg), cycle_deg);
        if (place < 0) place += cycle_deg;
        const auto i = static_cast<std::size_t>(place);
        const auto tooth = static_cast<Eigen::Index>(k);
        speed[i] += motion.rad_per_s[tooth] * rpm_per_rad_per_s;
        model[i] += fit.model[tooth] * rpm_per_rad_per_s;
        counts[i] += 1;
    }
    if (*std::min_element(counts.begin(), counts.end()) < 1) return;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        speed[i] /= counts[i];
        model[i] /= counts[i];
    }
    result.mean_cycle = std::move(speed);
    result.model_cycle = std::move(model);
}

std::optional<Figure> speed_of(const CrankAngle& angle) {
    if (!(angle.speed_rpm > 0)) return {};
    std::vector<double> turns;
    std::size_t last = angle.time_s.size() - 1;
    for (std::size_t i = last; i-- > 0;) {
        const double turned = angle.angle_deg[last] - angle.angle_deg[i];
        if (turned < 360 - 1e-6) continue;
        turns.push_back(turned / 6 / (angle.time_s[last] - angle.time_s[i]));
        last = i;
        if (turns.size() >= 2 * static_cast<std::size_t>(std::max(1, angle.cycles))) break;
    }
    if (turns.size() < 2) return Figure{angle.speed_rpm, angle.speed_rpm, angle.speed_rpm};
    const auto count = static_cast<double>(turns.size());
    const double half = signal::student_t_quantile(confidence_two_sided, count - 1) *
                        signal::standard_deviation(turns) / std::sqrt(count);
    return Figure{angle.speed_rpm, angle.speed_rpm - half, angle.speed_rpm + half};
}

/// Why no verdict can come of this motion at all, before anything is fitted.
std::optional<std::string> too_little(const CrankAngle& angle, const EngineLayout& layout) {
    if (angle.no_reference) return angle.no_reference;
    if (angle.time_s.size() < 4) return "the wheel shows too few teeth";
    if (angle.speed_rpm > fastest_cranking_rpm)
        return fmt::format(
            "the crank turns at {:.0f} rpm, faster than a starter turns it: the engine runs or "
            "is driven. Crank with fuel and ignition disabled, or narrow with --from and --to",
            angle.speed_rpm);
    const double interval = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    if (interval < least_interval_deg)
        return fmt::format(
            "compressions {:.0f} degrees apart overlap too far for the crank's speed to tell one cylinder "
            "from the "
            "next; speed is sound. Record the starter current instead",
            interval);
    std::vector<double> pitches;
    for (std::size_t i = 1; i < angle.angle_deg.size(); ++i)
        pitches.push_back(angle.angle_deg[i] - angle.angle_deg[i - 1]);
    const double pitch = signal::median(pitches);
    if (interval / pitch < least_teeth_per_interval)
        return fmt::format(
            "too coarse a wheel: {:.1f} teeth between two compressions, at least {:.0f} are "
            "needed to tell one cylinder from another; speed is sound. Record the starter "
            "current instead",
            interval / pitch, least_teeth_per_interval);
    return {};
}

/// A wheel whose teeth repeat with the compressions hides its own errors in them.
bool form_repeats_with_firing(const Motion& motion) {
    const double interval = cycle_deg / static_cast<double>(motion.tdc_deg.size());
    if (motion.repeat_deg > interval) return false;
    double low = 1e9;
    double high = 0;
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        low = std::min(low, motion.angle_deg[i] - motion.angle_deg[i - 1]);
        high = std::max(high, motion.angle_deg[i] - motion.angle_deg[i - 1]);
    }
    if (high - low < 1) return false;
    // Every gap must have a gap one interval on.
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        if (motion.angle_deg[i] - motion.angle_deg[i - 1] < high - 1e-6) continue;
        const double there = motion.angle_deg[i] + interval;
        if (there > motion.angle_deg.back()) break;
        const auto next = std::lower_bound(motion.angle_deg.begin(), motion.angle_deg.end(), there - 0.5);
        const auto k = static_cast<std::size_t>(next - motion.angle_deg.begin());
        if (std::abs(motion.angle_deg[k] - there) > 0.5 ||
            motion.angle_deg[k] - motion.angle_deg[k - 1] < high - 1e-6)
            return false;
    }
    return true;
}

/// Where position 0's TDC can lie when a mark was told: once a turn it may be a turn away, which is another
/// place of the intervals unless they repeat every turn.
std::vector<double> known_phases_deg(const Motion& motion, const CrankAngle& angle) {
    const bool same = std::abs(std::remainder(cycle_deg / 2, motion.repeat_deg)) < 1;
    if (!angle.once_per_turn || same) return {0.0};
    return {0.0, cycle_deg / 2};
}

/// What a fit says of the cylinders; false when nothing compresses in it.
bool fill(const Motion& motion, const EngineLayout& layout, const Fit& fit, Contribution& result) {
    if (fit.strength.size() == 0) return false;
    const std::vector<Event> events = wheel::events_of(motion, fit.phase_deg);
    const std::vector<double> by_event = strength_by_event(motion, fit, events);
    const Errors errors = errors_of(motion, fit, events, by_event);
    if (fit.strength.maxCoeff() < least_strength_per_s2 ||
        fit.strength.mean() * std::sqrt(static_cast<double>(fit.strength.size())) <
            least_significance * errors.chance)
        return false;
    fill_cylinders(motion, layout, fit, errors, events, by_event, result);
    fill_events(motion, fit, events, by_event, result);
    fill_mean_cycle(motion, fit, result);
    return true;
}

/// Whether the intervals themselves must tell where they begin.
bool places_open(const Motion& motion, const CrankAngle& angle, bool known) {
    if (known) return known_phases_deg(motion, angle).size() > 1;
    return motion.tdc_deg.size() > 1 &&
           motion.repeat_deg > cycle_deg / static_cast<double>(motion.tdc_deg.size());
}

bool speeds_up(const Fit& fit) {
    return fit.strength.size() > 0 && fit.strength.minCoeff() < most_negative_ratio * fit.strength.maxCoeff();
}

bool not_excluded(const wheel::Fits& fits) {
    return fits.rival.strength.size() > 0 && !speeds_up(fits.rival) &&
           (fits.rival.cost - fits.best.cost < doubtful_cost ||
            fits.rival.squares < doubtful_squares_ratio * fits.best.squares);
}

/// The intervals fit in two places about as well, as they do when a dead cylinder leaves out one of them:
/// each position's interval then holds what either place makes of it.
void doubt_places(const Motion& motion, const EngineLayout& layout, const Fit& rival, Contribution& result) {
    Contribution other;
    if (!fill(motion, layout, rival, other)) return;
    for (std::size_t i = 0; i < result.cylinders.size(); ++i) {
        CylinderContribution& cylinder = result.cylinders[i];
        cylinder.low_pct = std::min(*cylinder.low_pct, *other.cylinders[i].low_pct);
        cylinder.high_pct = std::max(*cylinder.high_pct, *other.cylinders[i].high_pct);
    }
    result.notices.push_back(
        {"intervals-fit-twice",
         "The firing intervals fit the speed in two places about equally well, so which position is which is "
         "not sure, and the intervals hold both. Record a cam sensor too and name it with --sync, or give "
         "--sync-lead."});
}

}  // namespace

Contribution wheel_contribution(const Cranking& cranking, const CrankAngle& angle,
                                const EngineLayout& layout) {
    Contribution result;
    if (cranking.no_cranking) {
        result.inconclusive = cranking.no_cranking;
        return result;
    }
    if (!angle.no_reference && angle.time_s.size() >= 2) result.speed_rpm = speed_of(angle);
    result.inconclusive = too_little(angle, layout);
    if (result.inconclusive) return result;
    const double interval = *std::max_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    const Motion motion = motion_of(angle, first_tooth(angle, cranking, interval), layout);
    if (motion.turned_deg() < cycle_deg) {
        result.inconclusive = fmt::format(
            "only {:.0f} degrees of steady cranking: a whole cycle of 720 is needed. Crank for five seconds",
            motion.turned_deg());
        return result;
    }
    const bool known = angle.offset_sd_deg < interval / 4;
    const wheel::Fits fits =
        wheel::fit_motion(motion, known ? known_phases_deg(motion, angle) : std::vector<double>{});
    const bool placeless = places_open(motion, angle, known) && speeds_up(fits.best);
    if (placeless && fits.best.strength.maxCoeff() > least_strength_per_s2 &&
        (fits.rival.strength.size() == 0 || speeds_up(fits.rival))) {
        result.inconclusive =
            "the firing intervals find no place in the cycle: wherever they begin, a compression would have "
            "to "
            "speed the crank up. Check the intervals, and record a cam sensor too and name it with --sync";
        return result;
    }
    if (!fill(motion, layout, fits.best, result)) {
        result.inconclusive =
            "nothing compresses: the speed carries no ripple that compression would make. Are the plugs "
            "out, or does the wheel turn without the engine?";
        return result;
    }
    if (!known)
        result.notices.push_back(
            {"phase-from-compression",
             std::string("TDC was found from the compressions themselves; position 1 is the first after the "
                         "wheel's first tooth") +
                 (layout.fires_evenly() ? "" : " that the intervals can begin with") +
                 ". Give --sync-lead to name cylinders."});
    if (placeless || not_excluded(fits)) doubt_places(motion, layout, fits.rival, result);
    if (placeless)  // neither place is to be relied on: nobody is condemned on it
        for (CylinderContribution& cylinder : result.cylinders) cylinder.high_pct = 100;
    if (form_repeats_with_firing(motion))
        result.notices.push_back(
            {"tooth-form",
             "The wheel's teeth repeat with the compressions, so an error in their form cannot be told from "
             "compression common to all cylinders; differences between cylinders are not touched. Compare "
             "with the starter current if a verdict hangs on it."});
    return result;
}

}  // namespace evenstroke
