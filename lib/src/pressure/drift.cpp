#include "drift.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "clipping.hpp"
#include "screen.hpp"
#include "signal/interpolate.hpp"
#include "signal/levels.hpp"
#include "signal/statistics.hpp"
#include "strokes.hpp"

namespace evenstroke::pressure {

namespace {

/// Two levels do not tell a drift from one that is wrong.
constexpr std::size_t fewest_exhausts = 3;
/// On simulated engines that are cranked the levels differ by 1 kPa, at most by 2.5.
constexpr double least_drift_kpa = 3;
/// A drift is smooth: each level lies this near to the middle of its neighbours, as a share of the whole
/// drift (an exponential that halves with each cycle bends by a fifth).
constexpr double most_bend_ratio = 0.3;

/// When the exhaust strokes were, and what the transducer reads there.
struct Exhausts {
    std::vector<double> time_s, kpa;
};

Exhausts exhausts(const Pressure& p, const PulseTrain& driven, double until_s) {
    Exhausts levels;
    for (const RoughPulse& pulse : driven.pulses) {
        const double first_s = pulse.peak_s + exhaust_stroke.first * *driven.period_s;
        const double last_s = pulse.peak_s + exhaust_stroke.last * *driven.period_s;
        const std::size_t first = p.sample_at(first_s), last = p.sample_at(last_s);
        if (last_s > until_s || first >= last) continue;
        levels.time_s.push_back((first_s + last_s) / 2);
        levels.kpa.push_back(signal::quantile(std::span(p.kpa).subspan(first, last - first), 0.5));
    }
    return levels;
}

bool goes_smoothly(const std::vector<double>& kpa, double range_kpa) {
    for (std::size_t i = 1; i + 1 < kpa.size(); ++i)
        if (std::abs(kpa[i] - (kpa[i - 1] + kpa[i + 1]) / 2) > most_bend_ratio * range_kpa) return false;
    return true;
}

/// The pulses that the starter drove; none where there is no verdict anyway.
PulseTrain driven_of(const PulseTrain& all, const Pressure& p, double& until_s) {
    Pressure looked = p;
    PulseTrain driven = all;
    screen(driven, looked);
    if (looked.inconclusive || looked.unfitted) driven.pulses.clear();
    until_s = looked.driven_until_s.value_or(p.time_s(p.kpa.size() - 1));
    return driven;
}

}  // namespace

bool take_drift_off(Pressure& p, const PulseTrain& train) {
    // A floor would bend with the correction and be one no more, and what leaks would seem to be above it.
    if (!train.period_s || held_floor(p.kpa, p.rate_hz)) return false;
    double until_s = 0;
    const PulseTrain driven = driven_of(train, p, until_s);
    const Exhausts seen = exhausts(p, driven, until_s);
    if (seen.kpa.size() < fewest_exhausts) return false;
    const auto [low, high] = std::minmax_element(seen.kpa.begin(), seen.kpa.end());
    const double range_kpa = *high - *low;
    if (range_kpa < least_drift_kpa || !goes_smoothly(seen.kpa, range_kpa)) return false;
    const double from_kpa = seen.kpa.front(), to_kpa = seen.kpa.back();
    p.notices.push_back(
        {"drift",
         fmt::format("The sensor drifts: in the exhaust stroke, where every cylinder stands at ambient "
                     "pressure, it reads {:.0f} kPa at first and {:.0f} in the end. That was taken off, and "
                     "the sensor offset is that of the middle. Let the transducer take the engine's "
                     "temperature before recording, or cool it.",
                     from_kpa, to_kpa)});
    // Beyond the strokes that were seen the line goes on for a cycle: further out it would only be a guess.
    const double middle_kpa = signal::median(seen.kpa);
    const double first_s = seen.time_s.front() - *driven.period_s;
    const double last_s = seen.time_s.back() + *driven.period_s;
    for (std::size_t i = 0; i < p.kpa.size(); ++i) {
        const double at_s = std::clamp(p.time_s(i), first_s, last_s);
        p.kpa[i] -= static_cast<float>(signal::interpolate(seen.time_s, seen.kpa, at_s) - middle_kpa);
    }
    return true;
}

}  // namespace evenstroke::pressure
