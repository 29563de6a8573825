#include "rhythm.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"
#include "values/cranking_limits.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::pressure {

namespace {

/// A motored pulse falls about as fast as it rises; a fired one keeps up. On simulated engines `heated` is
/// 0.6 to 1.25 while cranked, the highest where another cylinder compresses soon after and slows the crank,
/// and 1.3 to 1.7 when they idle, where the crank turns evenly.
constexpr double fired_width_ratio = 1.35, fired_heat_ratio = 1.5, idling_heat_ratio = 1.15;
/// At 600 rpm a pulse is 11 ms wide at half its height, and a cranked one 30 to 90 ms.
constexpr double idling_width_s = 0.013;
/// … and stands above the motored ones by this factor.
constexpr double fired_height_ratio = 1.3;
/// Starters do not turn faster.
constexpr double shortest_cranked_cycle_s = 120 / fastest_unplugged_rpm;
/// A distance that differs more from those just before breaks the rhythm: cranked cycles differ by 2 %, and a
/// released engine loses a tenth of its speed within a stroke.
constexpr double longer_ratio = 1.12, shorter_ratio = 0.88;
constexpr std::size_t remembered = 3;
/// A later stretch that is so much faster is the running engine.
constexpr double running_ratio = 0.75;
/// While the engine speeds up, distances are up to so many times the settled one.
constexpr double speeding_up_ratio = 1.7;
/// The last pulse was still driven when its fall and its height are the others'.
constexpr double slow_fall_ratio = 1.15, low_height_ratio = 0.85;
/// Without a pulse for so many cycles the engine stood, or was let go.
constexpr double silent_cycles = 1.3;
/// Two cylinders: neighbours alternate by more than this. The largest alternation of one cylinder beside an
/// odd neighbour is about a tenth.
constexpr double two_cylinders_ratio = 1.3, alike_ratio = 1.15;
constexpr std::size_t fewest_for_alternation = 4;
/// A compression this much lower than those before it has lost something by itself: cranked ones differ by 2
/// %, by a tenth beside an odd neighbour, and by a quarter where a leaking cylinder slows its crank a lot
/// (simulated). Lows that end a recording are a release's where they are fewer than this.
constexpr double lost_height_ratio = 0.72;
constexpr std::size_t fewest_lost_at_end = 3;
/// A closed throttle's intake is emptied by the first compressions, which alone are high.
constexpr std::size_t fewest_high_before = 3;
/// What reaches less leaks always.
constexpr double sound_height_kpa = least_psi * kpa_per_psi;
/// … and the rhythm holds: one leaking compression among sound ones moved the distances by a quarter
/// (simulated).
constexpr double held_rhythm_ratio = 1.35;
/// In the median of fewer pulses a low first one weighs too much.
constexpr std::size_t fewest_for_median = 4;

double median_of(const std::vector<RoughPulse>& pulses, std::size_t first, std::size_t last, auto value) {
    std::vector<double> values;
    for (std::size_t i = first; i < last; ++i)
        if (const std::optional<double> v = value(pulses[i])) values.push_back(*v);
    return values.empty() ? 0 : signal::median(std::move(values));
}

double gap_s(const std::vector<RoughPulse>& pulses, std::size_t after) {
    return pulses[after].peak_s - pulses[after - 1].peak_s;
}

/// Stretches of even distances. Neighbouring stretches share the pulse between them.
std::vector<Stretch> even_stretches(const std::vector<RoughPulse>& pulses) {
    std::vector<Stretch> all;
    std::vector<double> gaps;
    Stretch now{0, 1, 0};
    const auto close = [&] {
        if (!gaps.empty()) now.period_s = signal::median(gaps);
        all.push_back(now);
    };
    for (std::size_t i = 1; i < pulses.size(); ++i) {
        double gap = gap_s(pulses, i);
        if (!gaps.empty()) {
            const std::size_t few = std::min(remembered, gaps.size());
            const double usual = signal::median({gaps.end() - static_cast<std::ptrdiff_t>(few), gaps.end()});
            // A gap of the recording may have swallowed whole cycles.
            if (pulses[i].bridged_before) gap /= std::max(1.0, std::round(gap / usual));
            if (gap > longer_ratio * usual || gap < shorter_ratio * usual) {
                close();
                now = {i - 1, i, 0};
                gaps.clear();
                gap = gap_s(pulses, i);
            }
        }
        gaps.push_back(gap);
        now.last = i + 1;
    }
    close();
    return all;
}

/// The first pulse in the stretch that is fired, by itself or by standing above those before it.
std::size_t first_fired(const std::vector<RoughPulse>& pulses, const Stretch& s, double rest) {
    for (std::size_t i = s.first; i < s.last; ++i) {
        if (burns(pulses[i])) return i;
        if (i < s.first + 2) continue;
        // Not the first: the crank stood within its stroke, or still speeds up there.
        const double usual = median_of(pulses, s.first + 1, i,
                                       [&](const RoughPulse& p) { return std::optional(p.peak - rest); });
        if (pulses[i].peak - rest > fired_height_ratio * usual) return i;
    }
    return s.last;
}

/// Whether the last pulse of the stretch is lower, or falls more slowly, than those before it.
bool ends_slowly(const std::vector<RoughPulse>& pulses, const Stretch& s, double rest) {
    if (s.size() < 3) return false;
    const std::size_t first = s.size() > 3 ? s.first + 1 : s.first;  // the engine still speeds up there
    const RoughPulse& last = pulses[s.last - 1];
    const auto fall = [](const RoughPulse& p) {
        return p.foot_s ? std::optional(*p.foot_s - p.peak_s) : std::nullopt;
    };
    const auto rise = [](const RoughPulse& p) { return std::optional(p.peak_s - p.rise_s); };
    const auto height = [&](const RoughPulse& p) { return std::optional(p.peak - rest); };
    const double usual_fall = median_of(pulses, first, s.last - 1, fall);
    return (usual_fall > 0 && fall(last) && *fall(last) > slow_fall_ratio * usual_fall) ||
           *rise(last) > slow_fall_ratio * median_of(pulses, first, s.last - 1, rise) ||
           *height(last) < low_height_ratio * median_of(pulses, first, s.last - 1, height);
}

/// The stretch that was cranked: the longest unfired one that is not faster than the slowest steady one by
/// far.
std::optional<Stretch> cranked(std::vector<Stretch> all, std::size_t fewest) {
    double slowest_s = 0;
    for (const Stretch& s : all)
        if (s.size() >= fewest) slowest_s = std::max(slowest_s, s.period_s);
    std::optional<Stretch> best;
    for (const Stretch& s : all) {
        if (s.size() < fewest || s.period_s < shortest_cranked_cycle_s ||
            s.period_s < running_ratio * slowest_s)
            continue;
        const bool same = best && best->size() == s.size();
        if (!best || s.size() > best->size() || (same && s.size() == 2 && s.period_s < best->period_s))
            best = s;
    }
    return best;
}

/// How the pulses go on after the driven stretch.
Ending ending_of(const std::vector<RoughPulse>& pulses, const Stretch& s, double rest,
                 double recording_end_s) {
    if (s.last == pulses.size()) {
        const double silent_s = recording_end_s - pulses[s.last - 1].peak_s;
        return silent_s > silent_cycles * s.period_s ? Ending::run_down : Ending::recording;
    }
    const bool few = s.size() < fewest_for_median;
    const double usual = median_of(pulses, few ? s.last - 1 : s.first, s.last,
                                   [&](const RoughPulse& p) { return std::optional(p.peak - rest); });
    // A charge that the crank rocks back on falls slowly too, but it never stands as high as a driven one.
    const bool burning = std::any_of(
        pulses.begin() + static_cast<std::ptrdiff_t>(s.last), pulses.end(), [&](const RoughPulse& p) {
            const double height_ratio = (p.peak - rest) / usual;
            return height_ratio > fired_height_ratio || (height_ratio > 1 && burns(p));
        });
    return burning ? Ending::fired : Ending::run_down;
}

/// Mean of every other one from `start` on, and whether they are alike.
struct Half {
    double mean = 0;
    bool alike = true;
};
Half every_other(const std::vector<double>& values, std::size_t start) {
    std::vector<double> some;
    for (std::size_t i = start; i < values.size(); i += 2) some.push_back(values[i]);
    const double middle = signal::median(some);
    const bool alike = std::all_of(some.begin(), some.end(), [&](double v) {
        return v < alike_ratio * middle && v > middle / alike_ratio;
    });
    return {middle, alike};
}

/// Some run of neighbours alternates: each half alike in itself, and the halves apart.
bool alternates(const std::vector<double>& values) {
    for (std::size_t i = 0; i + fewest_for_alternation <= values.size(); ++i) {
        const std::vector<double> part(
            values.begin() + static_cast<std::ptrdiff_t>(i),
            values.begin() + static_cast<std::ptrdiff_t>(i + fewest_for_alternation));
        const Half even = every_other(part, 0), odd = every_other(part, 1);
        const double ratio = std::max(even.mean / odd.mean, odd.mean / even.mean);
        if (even.alike && odd.alike && ratio > two_cylinders_ratio) return true;
    }
    return false;
}

}  // namespace

bool burns(const RoughPulse& pulse) {
    if (!pulse.fall_s) return false;
    const bool idles = *pulse.fall_s - pulse.rise_s < idling_width_s;
    if (pulse.heated && *pulse.heated > (idles ? idling_heat_ratio : fired_heat_ratio)) return true;
    return *pulse.fall_s - pulse.peak_s > fired_width_ratio * (pulse.peak_s - pulse.rise_s);
}

std::size_t low_in_rhythm(const std::vector<RoughPulse>& pulses, double rest) {
    if (std::any_of(pulses.begin(), pulses.end(), burns)) return 0;
    double high = 0;  // the last that was not low: a throttle's fall step by step
    std::size_t as_high = 0, low = 0, at_end = 0;
    for (std::size_t i = 0; i < pulses.size(); ++i) {
        const double height = pulses[i].peak - rest;
        const double change = i < 2 ? 1 : gap_s(pulses, i) / gap_s(pulses, i - 1);
        if (high == 0 || change > held_rhythm_ratio || change < 1 / held_rhythm_ratio) {
            high = height;
            as_high = 1;
            at_end = 0;
        } else if (height > fired_height_ratio * high) {
            break;
        } else if (height < lost_height_ratio * high && high > sound_height_kpa) {
            ++at_end;
        } else {
            low += at_end;
            at_end = 0;
            ++as_high;
            high = height;
        }
    }
    return as_high < fewest_high_before || at_end < fewest_lost_at_end ? low : low + at_end;
}

bool two_cylinders(const std::vector<RoughPulse>& pulses, double rest) {
    std::vector<double> heights, gaps;
    for (std::size_t i = 0; i < pulses.size(); ++i) {
        heights.push_back(pulses[i].peak - rest);
        if (i > 0) gaps.push_back(gap_s(pulses, i));
    }
    return alternates(heights) || alternates(gaps);
}

Driven find_driven(const std::vector<RoughPulse>& pulses, double rest, double recording_end_s) {
    Driven driven;
    if (pulses.empty()) return driven;
    std::vector<Stretch> all = even_stretches(pulses);
    for (Stretch& s : all) s.last = first_fired(pulses, s, rest);
    std::optional<Stretch> best = cranked(all, 3);
    if (!best) best = cranked(all, 2);
    if (!best) return driven;
    while (best->size() > 2 && ends_slowly(pulses, *best, rest)) --best->last;
    // The engine speeds up: its first cycle is longer than those that follow.
    if (best->first > 0 && best->first <= 2) {
        std::size_t i = best->first;
        while (i > 0 && gap_s(pulses, i) < speeding_up_ratio * best->period_s &&
               gap_s(pulses, i) > shorter_ratio * best->period_s && !burns(pulses[i - 1]))
            --i;
        best->first = i;
    }
    driven.stretch = *best;
    driven.ending = ending_of(pulses, *best, rest, recording_end_s);
    return driven;
}

}  // namespace evenstroke::pressure
