#include "wheel_settle.hpp"

#include <algorithm>
#include <span>

#include "signal/statistics.hpp"

namespace evenstroke::cranking {

namespace {

/// Where the teeth of a turn are told, over the teeth of a cycle if so many cycles are there, else of a turn.
constexpr std::size_t least_cycles = 3;
/// Speed has settled when the mean rate over the first and the second half of a stretch agree within this
/// factor, and no rate in it strays further than the other (few cylinders on a coarse wheel).
constexpr double settled_drift = 1.04;
constexpr double settled_spread = 1.3;

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

}  // namespace evenstroke::cranking
