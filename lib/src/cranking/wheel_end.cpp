#include "wheel_end.hpp"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <utility>

#include "signal/statistics.hpp"

namespace evenstroke::cranking {

namespace {

/// The engine has started when the rate passes this multiple of the cranking rate. Cranking speed itself
/// rises by a tenth or so in a burst as oil warms; an engine that fires doubles it within a turn or two.
constexpr double runaway_ratio = 1.3;
/// It stays so for a share of the window, or to the end. A window of whole cycles holds no compression's
/// ripple, and an engine that fires weakly may die again; one that may be shorter than a compression must be
/// left by what was quick before.
constexpr double lasting_of_cycle = 0.25;
constexpr double lasting_of_time = 1.0;
constexpr double level_rise = 1.1;
/// The starter has let go when the rate falls below this share of the cranking rate, to the end.
constexpr double release_ratio = 0.8;
/// The slow phase of a compression: periods above this quantile of those of settled cranking.
constexpr double slow_quantile = 0.75;
/// Periods of a fine wheel are taken as medians over up to this time (and five teeth).
constexpr double smooth_s = 0.03;
/// From the key's release to the last rocking of the crank; a crank that coasts for longer shows in the
/// rates.
constexpr double longest_stop_s = 1.0;
/// How far back before that the usual speed is taken: it follows a battery that runs down.
constexpr double recent_s = 2.0;
/// The crank turns at ordinary speed while a tooth takes no longer than this multiple of the usual time …
constexpr double ordinary_ratio = 1.15;
/// … and stops when it does not for this multiple of the longest time that a compression held it slower.
constexpr double stop_ratio = 1.5;

/// The median of values that come and go, kept in order: taking it anew at every tooth costs minutes in an
/// hour of running.
class SlidingMedian {
  public:
    void add(double value) { sorted_.insert(place_of(value), value); }
    void remove(double value) { sorted_.erase(place_of(value)); }
    [[nodiscard]] bool empty() const { return sorted_.empty(); }
    [[nodiscard]] double median() const {
        const std::size_t middle = sorted_.size() / 2;
        return sorted_.size() % 2 == 1 ? sorted_[middle] : (sorted_[middle] + sorted_[middle - 1]) / 2;
    }

  private:
    [[nodiscard]] std::vector<double>::iterator place_of(double value) {
        return std::lower_bound(sorted_.begin(), sorted_.end(), value);
    }
    std::vector<double> sorted_;
};

/// Whether the rate stays above `least` from tooth `first` on for so long, or to the end.
bool lasts(const ToothTimes& times, const std::vector<double>& rates, std::size_t first, double least,
           double for_s) {
    for (std::size_t i = first; i < times.size() && times[i] - times[first] < for_s; ++i)
        if (rates[i] <= least) return false;
    return true;
}

/// The tooth at which the rate has run away, if it does; the level follows slow changes.
std::optional<std::size_t> runaway(const ToothTimes& times, const ToothRates& rates, SteadyRate level) {
    std::size_t first = level.tooth;
    std::size_t next = level.tooth;
    SlidingMedian past;
    const double most_level = level_rise * level.rate;
    const double lasting = rates.whole_turns ? lasting_of_cycle : lasting_of_time;
    for (std::size_t i = level.tooth; i < times.size(); ++i) {
        const double away = runaway_ratio * level.rate;
        if (rates.per_s[i] > away && lasts(times, rates.per_s, i, away, lasting * rates.window_s[i]))
            return i;
        for (; next < i && times[i] - times[next] > rates.window_s[i] / 2; ++next)
            past.add(rates.per_s[next]);
        for (; first < next && times[i] - times[first] > 2 * settled_for_s; ++first)
            past.remove(rates.per_s[first]);
        if (times[i] - times[level.tooth] < settled_for_s) continue;
        if (!past.empty()) level.rate = std::min(past.median(), most_level);
    }
    return {};
}

/// A tooth's period is a median over so many teeth before it: over a fine wheel's neighbours, so that a gap
/// is not taken for a slow tooth; a coarse wheel has none.
std::size_t smoothing(double usual_s) {
    return static_cast<std::size_t>(std::clamp(smooth_s / usual_s, 1.0, 5.0));
}

/// The last tooth before `beyond` that still belongs to the slow phase of a compression, as those more than
/// `within_s` before tell.
std::size_t last_slow_tooth(const ToothTimes& times, std::size_t settled, std::size_t beyond,
                            double within_s) {
    const std::size_t over = smoothing(median_period(times, 0, settled));
    const auto smooth = [&times, over](std::size_t i) { return median_period(times, i - over, i); };
    std::vector<double> periods;
    const std::size_t from = std::max<std::size_t>(over, settled);
    for (std::size_t i = from; i < beyond; ++i)
        if (times[i] < times[beyond] - within_s) periods.push_back(smooth(i));
    if (periods.size() < 3) return beyond;
    std::sort(periods.begin(), periods.end());
    const double slow =
        periods[static_cast<std::size_t>(slow_quantile * static_cast<double>(periods.size() - 1))];
    for (std::size_t i = beyond; i > from; --i)
        if (smooth(i) >= slow) return i;
    return beyond;
}

/// Where the rate falls for good, if it does.
std::optional<std::size_t> release(const ToothTimes& times, const std::vector<double>& rates, double level) {
    std::size_t last = times.size();
    while (last > 1 && rates[last - 1] < release_ratio * level) --last;
    if (last == times.size() || last < 2) return {};
    return last - 1;
}

/// The teeth from `first` on at which the crank is no slower than usual, by the speed before its last part.
std::vector<std::size_t> ordinary_teeth(const ToothTimes& times, std::size_t first, double tail_s) {
    const std::size_t over = smoothing(median_period(times, 0, first));
    std::vector<double> periods;
    std::vector<double> before;
    for (std::size_t i = std::max(first, over); i < times.size(); ++i) {
        periods.push_back(median_period(times, i - over, i));
        if (times[i] < tail_s && times[i] > tail_s - recent_s) before.push_back(periods.back());
    }
    if (before.empty()) return {};
    const double most_s = ordinary_ratio * signal::median(std::move(before));
    std::vector<std::size_t> teeth;
    for (std::size_t i = 0; i < periods.size(); ++i)
        if (periods[i] <= most_s) teeth.push_back(i + std::max(first, over));
    return teeth;
}

/// The last tooth of ordinary speed before the crank stops for good, if it does: it then stays slow for
/// longer than any compression held it before. What comes after is coasting, and the crank rocking back.
/// `stops`: that no tooth follows is known to be a stop, and not the end of the recording.
std::optional<std::size_t> last_before_stop(const ToothTimes& times, std::size_t settled, bool stops) {
    const double tail_s = times.back() - std::min(longest_stop_s, (times.back() - times[settled]) / 2);
    const std::vector<std::size_t> teeth = ordinary_teeth(times, settled, tail_s);
    if (teeth.empty()) return {};
    double longest_s = 0;
    for (std::size_t k = 0; k + 1 < teeth.size(); ++k) {
        const double slow_s = times[teeth[k + 1]] - times[teeth[k]];
        if (times[teeth[k + 1]] < tail_s)
            longest_s = std::max(longest_s, slow_s);
        else if (longest_s > 0 && slow_s > stop_ratio * longest_s)
            return teeth[k];
    }
    const bool stopping = longest_s > 0 && times.back() - times[teeth.back()] > stop_ratio * longest_s;
    return stops || stopping ? std::optional(teeth.back()) : std::nullopt;
}

}  // namespace

UsableEnd end_of_wheel(const ToothTimes& times, const ToothRates& rates, const SteadyRate& level,
                       bool stops) {
    UsableEnd end{.end_s = times.back()};
    const auto turns = slow_turns(times, rates);
    const ToothRates& counted = turns ? turns->rates : rates;
    const SteadyRate& usual = turns ? turns->level : level;
    if (const auto away = runaway(times, counted, usual)) {
        end.end_s = times[last_slow_tooth(times, usual.tooth, *away, counted.window_s[*away])];
        end.ended_by = CrankingEnd::engine_start;
        return end;
    }
    if (const auto falls = release(times, rates.per_s, level.rate)) {
        // The rate looks back over a window; the fall began about half of it earlier.
        end.end_s = std::max(times[level.tooth], times[*falls] - rates.window_s[*falls] / 2);
        end.ended_by = CrankingEnd::release;
    }
    if (const auto last = last_before_stop(times, level.tooth, stops)) {
        end.end_s = std::min(end.end_s, times[last_slow_tooth(times, level.tooth, *last, rate_window_s)]);
        end.ended_by = CrankingEnd::release;
    }
    return end;
}

}  // namespace evenstroke::cranking
