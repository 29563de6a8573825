#include "wheel_answer.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "evenstroke/engine.hpp"
#include "interval.hpp"
#include "signal/interpolate.hpp"

namespace evenstroke::contribution::wheel {

namespace {

constexpr double rpm_per_rad_per_s = 30 / pi;

void fill_cylinders(const Answer& answer, Contribution& result) {
    result.cylinders.assign(static_cast<std::size_t>(answer.pct.size()), {});
    for (std::size_t i = 0; i < result.cylinders.size(); ++i) {
        const auto at = static_cast<Eigen::Index>(i);
        CylinderContribution& cylinder = result.cylinders[i];
        cylinder.contribution_pct = answer.pct[at];
        cylinder.low_pct = answer.low_pct[at];
        cylinder.high_pct = answer.high_pct[at];
        for (std::size_t e = 0; e < answer.events.size(); ++e)
            if (answer.events[e].position == static_cast<int>(i) && std::isfinite(answer.by_event_pct[e]))
                ++cylinder.events;
    }
}

/// Lowest speed near each TDC, highest since the compression before: for plots and the simple figure.
void fill_events(const WheelMotion& motion, const Answer& answer, Contribution& result) {
    const auto& events = answer.events;
    const auto& by_event_pct = answer.by_event_pct;
    int first_cycle = std::numeric_limits<int>::max();
    int last_cycle = std::numeric_limits<int>::min();
    for (std::size_t e = 0; e < events.size(); ++e)
        if (std::isfinite(by_event_pct[e])) {
            first_cycle = std::min(first_cycle, events[e].cycle);
            last_cycle = std::max(last_cycle, events[e].cycle);
        }
    if (first_cycle > last_cycle) return;
    const std::vector<std::optional<double>> none(result.cylinders.size());
    result.by_cycle_pct.assign(static_cast<std::size_t>(last_cycle - first_cycle + 1), none);
    std::vector<double> dips(motion.tdc_deg.size(), 0.0);
    for (std::size_t e = 0; e < events.size(); ++e) {
        if (!std::isfinite(by_event_pct[e])) continue;
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
        event.contribution_pct = by_event_pct[e];
        const auto position = static_cast<std::size_t>(event.position);
        result.by_cycle_pct[static_cast<std::size_t>(event.cycle)][position] = event.contribution_pct;
        dips[position] += (high - low) / result.cylinders[position].events;
        result.events.push_back(event);
    }
    const double deepest = *std::max_element(dips.begin(), dips.end());
    if (!(deepest > 0)) return;
    for (std::size_t i = 0; i < dips.size(); ++i)
        if (result.cylinders[i].events > 0) result.cylinders[i].simple_pct = 100 * dips[i] / deepest;
}

/// Speed and model averaged over the cycles at whole degrees after position 0's TDC.
void fill_mean_cycle(const WheelMotion& motion, const Answer& answer, Contribution& result) {
    constexpr int degrees = 720;
    std::vector<double> speed(degrees, 0.0);
    std::vector<double> model(degrees, 0.0);
    std::vector<double> counts(degrees, 0.0);
    std::size_t k = 0;
    for (double a = std::ceil(motion.angle_deg.front() - answer.phase_deg) + answer.phase_deg;
         a < motion.angle_deg.back(); a += 1) {
        while (k + 2 < motion.angle_deg.size() && motion.angle_deg[k + 1] <= a) ++k;
        double place = std::fmod(std::round(a - answer.phase_deg), cycle_deg);
        if (place < 0) place += cycle_deg;
        const auto i = static_cast<std::size_t>(place);
        const auto tooth = static_cast<Eigen::Index>(k);
        speed[i] += motion.rad_per_s[tooth] * rpm_per_rad_per_s;
        model[i] += answer.rad_per_s[tooth] * rpm_per_rad_per_s;
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

}  // namespace

double time_at(const WheelMotion& motion, double angle_deg) {
    return signal::interpolate(motion.angle_deg, motion.time_s, angle_deg);
}

void join(Answer& answer, const Answer& other) {
    hold_both(answer.low_pct, answer.high_pct, other.low_pct, other.high_pct);
}

void fill(const WheelMotion& motion, const Answer& answer, Contribution& result) {
    fill_cylinders(answer, result);
    fill_events(motion, answer, result);
    fill_mean_cycle(motion, answer, result);
}

}  // namespace evenstroke::contribution::wheel
