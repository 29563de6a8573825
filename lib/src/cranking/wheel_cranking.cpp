#include "cranking/wheel_cranking.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <utility>

#include "signal/statistics.hpp"
#include "trace/wheel_edges.hpp"

namespace evenstroke {

namespace {

using Times = std::vector<double>;

/// Fewer teeth than this are no cranking: two cycles of the coarsest wheel (two teeth a turn).
constexpr std::size_t least_teeth = 8;
/// A pause ends a burst when it is longer than this and than so many usual periods (a piston can hold the
/// crank for a moment on its first compression).
constexpr double least_pause_s = 0.35;
constexpr double pause_periods = 8.0;
/// Rates are counted over this time: about a turn, so that gaps and compressions average out.
constexpr double window_s = 0.4;
/// Where the teeth of a turn are told, over the teeth of a cycle if so many cycles are there, else of a turn.
constexpr std::size_t least_cycles = 3;
/// Speed has settled when the mean rate over the first and the second half of a stretch agree within this
/// factor, and no rate in it strays further than the other (few cylinders on a coarse wheel) …
constexpr double settled_drift = 1.04;
constexpr double settled_spread = 1.3;
/// … for this time, or, at the end of a short recording, for the lesser one.
constexpr double settled_for_s = 0.5;
constexpr double settled_at_least_s = 0.25;
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
/// An interval this much shorter than those after it, among the first teeth, is chatter at rest.
constexpr double chatter_ratio = 0.25;
constexpr std::size_t chatter_teeth = 12;
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

bool is_kind(const Edge& edge, bool rising, const LocateOptions& options) {
    return edge.rising == rising && edge.time_s >= options.from_s.value_or(edge.time_s) &&
           edge.time_s <= options.to_s.value_or(edge.time_s);
}

Times of_kind(std::span<const Edge> edges, bool rising, const LocateOptions& options) {
    Times times;
    for (const Edge& edge : edges)
        if (is_kind(edge, rising, options)) times.push_back(edge.time_s);
    return times;
}

/// Mean change of ln(period) between neighbours: less for the edge kind that stands where it should.
double roughness(std::span<const Edge> edges, bool rising, const LocateOptions& options) {
    double sum = 0;
    double before_s = 0;
    double last_s = 0;
    std::size_t count = 0;
    for (const Edge& edge : edges) {
        if (!is_kind(edge, rising, options)) continue;
        if (++count > 2) sum += std::abs(std::log((edge.time_s - last_s) / (last_s - before_s)));
        before_s = std::exchange(last_s, edge.time_s);
    }
    return count < 3 ? std::numeric_limits<double>::infinity() : sum / static_cast<double>(count);
}

/// The times of the more regular kind of edge.
Times teeth_of(const Trace& trace, const LocateOptions& options) {
    std::vector<Edge> room;
    const std::span<const Edge> edges = wheel_edges(trace, room);
    if (edges.empty()) return {};
    return of_kind(edges, roughness(edges, true, options) < roughness(edges, false, options), options);
}

double median_period(const Times& times, std::size_t first, std::size_t last) {
    std::vector<double> periods;
    for (std::size_t i = first + 1; i <= last; ++i) periods.push_back(times[i] - times[i - 1]);
    return signal::median(std::move(periods));
}

/// Runs of teeth without a long pause, without chatter at their beginning.
std::vector<Times> bursts_of(const Times& times) {
    const double pause = std::max(least_pause_s, pause_periods * median_period(times, 0, times.size() - 1));
    std::vector<Times> bursts(1);
    for (std::size_t i = 0; i < times.size(); ++i) {
        if (i > 0 && times[i] - times[i - 1] > pause) bursts.emplace_back();
        bursts.back().push_back(times[i]);
    }
    for (Times& burst : bursts) {
        std::size_t chatter = 0;
        for (std::size_t i = 1; i <= chatter_teeth && i + 6 < burst.size(); ++i)
            if (burst[i] - burst[i - 1] < chatter_ratio * median_period(burst, i, i + 6)) chatter = i;
        burst.erase(burst.begin(), burst.begin() + static_cast<std::ptrdiff_t>(chatter));
    }
    return bursts;
}

/// Teeth a second over the window before each tooth.
struct Rates {
    bool whole_turns = false;      ///< the window is one turn or one cycle
    std::vector<double> per_s;     ///< 0 while there is no window yet
    std::vector<double> window_s;  ///< how long it is
};

/// Windows of so many teeth, or, where the teeth of a turn are not told (0), of `window_s`.
Rates rates_of(const Times& times, std::size_t teeth) {
    Rates rates{teeth > 0, std::vector<double>(times.size(), 0.0),
                std::vector<double>(times.size(), window_s)};
    std::size_t first = 0;
    for (std::size_t i = 1; i < times.size(); ++i) {
        while (first + 1 < i && (teeth > 0 ? i - first > teeth : times[i] - times[first + 1] >= window_s))
            ++first;
        const bool whole = teeth > 0 ? i >= teeth : times[i] - times.front() >= window_s;
        if (!whole) continue;
        rates.per_s[i] = static_cast<double>(i - first) / (times[i] - times[first]);
        if (teeth > 0) rates.window_s[i] = times[i] - times[first];
    }
    return rates;
}

/// The teeth of a cycle, where a burst has cycles enough to settle in, else of a turn: over them gaps,
/// compressions and a cylinder that lacks its own average out however slowly the crank turns.
std::size_t window_teeth(const Times& times, const LocateOptions& options) {
    if (!options.teeth_per_turn) return 0;
    const auto turn = static_cast<std::size_t>(*options.teeth_per_turn);
    return times.size() > least_cycles * 2 * turn ? 2 * turn : turn;
}

/// The first tooth from which the rate stays level, and that level.
struct Level {
    std::size_t tooth = 0;
    double rate = 0;
};

std::optional<Level> first_level(const Times& times, const std::vector<double>& rates) {
    for (std::size_t i = 0; i < times.size(); ++i) {
        if (!(rates[i] > 0)) continue;
        if (times.back() - times[i] < settled_at_least_s) break;
        const double until = std::min(times.back(), times[i] + settled_for_s);
        std::vector<double> ahead;
        for (std::size_t k = i; k < times.size() && times[k] <= until; ++k) ahead.push_back(rates[k]);
        if (ahead.size() < 3) continue;
        const auto [low, high] = std::minmax_element(ahead.begin(), ahead.end());
        const std::span<const double> all(ahead);
        const double early = signal::mean(all.first(ahead.size() / 2));
        const double late = signal::mean(all.subspan(ahead.size() / 2));
        if (*high < settled_spread * *low && late < settled_drift * early && early < settled_drift * late)
            return Level{i, signal::median(ahead)};
    }
    return {};
}

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
bool lasts(const Times& times, const std::vector<double>& rates, std::size_t first, double least,
           double for_s) {
    for (std::size_t i = first; i < times.size() && times[i] - times[first] < for_s; ++i)
        if (rates[i] <= least) return false;
    return true;
}

/// The tooth at which the rate has run away, if it does; the level follows slow changes.
std::optional<std::size_t> runaway(const Times& times, const Rates& rates, Level level) {
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
std::size_t last_slow_tooth(const Times& times, std::size_t settled, std::size_t beyond, double within_s) {
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
std::optional<std::size_t> release(const Times& times, const std::vector<double>& rates, double level) {
    std::size_t last = times.size();
    while (last > 1 && rates[last - 1] < release_ratio * level) --last;
    if (last == times.size() || last < 2) return {};
    return last - 1;
}

/// The teeth from `first` on at which the crank is no slower than usual, by the speed before its last part.
std::vector<std::size_t> ordinary_teeth(const Times& times, std::size_t first, double tail_s) {
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
std::optional<std::size_t> last_before_stop(const Times& times, std::size_t settled, bool stops) {
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

/// `stops`: the wheel stands still after its last tooth, as far as the recording shows.
void find_end(const Times& times, const Rates& rates, const Level& level, bool stops, Cranking& cranking) {
    if (const auto away = runaway(times, rates, level)) {
        cranking.end_s = times[last_slow_tooth(times, level.tooth, *away, rates.window_s[*away])];
        cranking.ended_by = CrankingEnd::engine_start;
        return;
    }
    cranking.end_s = times.back();
    if (const auto falls = release(times, rates.per_s, level.rate)) {
        // The rate looks back over a window; the fall began about half of it earlier.
        cranking.end_s = std::max(times[level.tooth], times[*falls] - rates.window_s[*falls] / 2);
        cranking.ended_by = CrankingEnd::release;
    }
    if (const auto last = last_before_stop(times, level.tooth, stops)) {
        cranking.end_s =
            std::min(cranking.end_s, times[last_slow_tooth(times, level.tooth, *last, window_s)]);
        cranking.ended_by = CrankingEnd::release;
    }
}

}  // namespace

Cranking locate_wheel(const Trace& trace, const LocateOptions& options) {
    Cranking cranking;
    const Times times = teeth_of(trace, options);
    if (times.size() < least_teeth) {
        cranking.no_cranking =
            options.from_s || options.to_s
                ? fmt::format("between --from and --to \"{}\" shows {} teeth: choose a longer part",
                              trace.channel, times.size())
                : fmt::format("\"{}\" shows {} teeth: the wheel hardly turns", trace.channel, times.size());
        return cranking;
    }
    const std::vector<Times> bursts = bursts_of(times);
    const auto length = [](const Times& burst) { return burst.size() < 2 ? 0.0 : burst.back() - burst[0]; };
    const auto longest = std::max_element(
        bursts.begin(), bursts.end(), [&](const auto& a, const auto& b) { return length(a) < length(b); });
    for (auto burst = bursts.begin(); burst != bursts.end(); ++burst)
        if (burst != longest && burst->size() >= least_teeth)
            cranking.others.push_back({burst->front(), burst->back()});
    if (longest->size() < least_teeth) {
        cranking.no_cranking =
            fmt::format("\"{}\" never shows {} teeth in a row", trace.channel, least_teeth);
        return cranking;
    }
    cranking.start_s = longest->front();
    cranking.end_s = longest->back();
    const Rates rates = rates_of(*longest, window_teeth(*longest, options));
    const auto level = first_level(*longest, rates.per_s);
    if (!level) {
        cranking.settled_s = cranking.start_s;
        cranking.notices.push_back(
            {"never-settled",
             "The wheel's speed never settles while cranking; figures are means over a "
             "changing speed. Crank for some seconds with fuel and ignition disabled."});
        return cranking;
    }
    // The rate at a tooth is that of the window before it.
    cranking.settled_s =
        std::max(cranking.start_s, (*longest)[level->tooth] - rates.window_s[level->tooth] / 2);
    const double last_s = longest->back();
    const double seen_s = std::min(trace.end_s.value_or(last_s),
                                   options.to_s.value_or(std::numeric_limits<double>::infinity()));
    const bool stops = std::next(longest) != bursts.end() || seen_s > last_s + least_pause_s;
    find_end(*longest, rates, *level, stops, cranking);
    return cranking;
}

}  // namespace evenstroke
