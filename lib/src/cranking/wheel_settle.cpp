#include "wheel_settle.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "signal/statistics.hpp"

namespace evenstroke::cranking {

namespace {

/// Where the teeth of a turn are told, over the teeth of a cycle if so many cycles are there, else of a turn.
constexpr std::size_t least_cycles = 3;
/// Speed has settled when the mean rate over the first and the second half of a stretch agree within this
/// factor, and no rate in it strays further than the other (few cylinders on a coarse wheel).
constexpr double settled_drift = 1.04;
constexpr double settled_spread = 1.3;

/// A period this many times as long as those beside it (their geometric mean, which a speed that changes
/// leaves alone) spans a gap: the least is two pitches.
constexpr double gap_ratio = 1.5;
/// The gaps tell the turn where so many distances between them, and two of three, are the same.
constexpr std::size_t least_turns = 3;

/// Teeth from each gap to the next, where the wheel has one.
std::optional<int> teeth_between_gaps(const ToothTimes& times) {
    std::vector<double> distances;
    std::size_t last = 0;
    for (std::size_t i = 2; i + 1 < times.size(); ++i) {
        const double before_s = times[i - 1] - times[i - 2], after_s = times[i + 1] - times[i];
        if (times[i] - times[i - 1] < gap_ratio * std::sqrt(before_s * after_s)) continue;
        if (const std::size_t before = std::exchange(last, i))
            distances.push_back(static_cast<double>(i - before));
    }
    if (distances.size() < least_turns) return {};
    const auto usual = static_cast<int>(std::lround(signal::median(distances)));
    const auto same = std::count(distances.begin(), distances.end(), static_cast<double>(usual));
    return 3 * static_cast<std::size_t>(same) < 2 * distances.size() ? std::nullopt : std::optional(usual);
}

/// The teeth of a cycle, where a burst has cycles enough to settle in, else of a turn: over them gaps,
/// compressions and a cylinder that lacks its own average out however slowly the crank turns.
std::size_t window_teeth(const ToothTimes& times, const LocateOptions& options) {
    if (!options.teeth_per_turn) return 0;
    const auto turn = static_cast<std::size_t>(*options.teeth_per_turn);
    return times.size() > least_cycles * 2 * turn ? 2 * turn : turn;
}

}  // namespace

ToothRates rates_of(const ToothTimes& times, const LocateOptions& options) {
    const std::size_t teeth = window_teeth(times, options);
    ToothRates rates{teeth > 0, std::vector<double>(times.size(), 0.0),
                     std::vector<double>(times.size(), rate_window_s)};
    std::size_t first = 0;
    for (std::size_t i = 1; i < times.size(); ++i) {
        while (first + 1 < i &&
               (teeth > 0 ? i - first > teeth : times[i] - times[first + 1] >= rate_window_s))
            ++first;
        const bool whole = teeth > 0 ? i >= teeth : times[i] - times.front() >= rate_window_s;
        if (!whole) continue;
        rates.per_s[i] = static_cast<double>(i - first) / (times[i] - times[first]);
        if (teeth > 0) rates.window_s[i] = times[i] - times[first];
    }
    return rates;
}

std::optional<SteadyRate> first_level(const ToothTimes& times, const ToothRates& rates) {
    for (std::size_t i = 0; i < times.size(); ++i) {
        if (!(rates.per_s[i] > 0)) continue;
        if (times.back() - times[i] < settled_at_least_s) break;
        const double until = std::min(times.back(), times[i] + settled_for_s);
        std::vector<double> ahead;
        for (std::size_t k = i; k < times.size() && times[k] <= until; ++k) ahead.push_back(rates.per_s[k]);
        if (ahead.size() < 3) continue;
        const auto [low, high] = std::minmax_element(ahead.begin(), ahead.end());
        const std::span<const double> all(ahead);
        const double early = signal::mean(all.first(ahead.size() / 2));
        const double late = signal::mean(all.subspan(ahead.size() / 2));
        if (*high < settled_spread * *low && late < settled_drift * early && early < settled_drift * late)
            return SteadyRate{i, signal::median(ahead)};
    }
    return {};
}

std::optional<SlowTurns> slow_turns(const ToothTimes& times, const ToothRates& rates) {
    if (rates.whole_turns) return {};
    const auto teeth = teeth_between_gaps(times);
    if (!teeth) return {};
    // The first half of the time, since an engine may run at the end.
    const double half_s = (times.back() - times.front()) / 2;
    const auto passed = std::lower_bound(times.begin(), times.end(), times.front() + half_s) - times.begin();
    if (half_s * *teeth < static_cast<double>(passed) * rate_window_s) return {};
    SlowTurns turns{.rates = rates_of(times, {.from_s = {}, .to_s = {}, .teeth_per_turn = teeth}),
                    .level = {}};
    const auto level = first_level(times, turns.rates);
    if (!level) return {};
    turns.level = *level;
    return turns;
}

}  // namespace evenstroke::cranking
