#include "read/clock.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace evenstroke::reading {

namespace {

/// Stamps further from the grid than this share of a step (beyond what printing explains) are uneven.
/// A sampling clock is good to parts per million; software timers are not good to a fiftieth.
constexpr double even_tolerance_ratio = 0.02;
/// Once a file counts as even, a row may be off by this share before it is taken for missing rows.
constexpr double follow_tolerance_ratio = 0.25;
/// A printed quantum above this share of the step shows in the differences between rows.
constexpr double quantised_ratio = 0.2;
/// How fast the grid follows the stamps: slow against printing, fast against an error of the fitted step.
constexpr double follow_gain = 0.005;
/// Holes in up to one row in twenty are rows left out; more is uneven sampling.
constexpr double most_holes_ratio = 0.05;
constexpr std::size_t always_allowed_holes = 16;
/// Rounded stamps differ by up to one quantum from even; cut-off ones too; some room for the fit itself.
constexpr double quantum_room = 1.5;

double least_squares_step(std::span<const double> times) {
    const auto count = static_cast<double>(times.size());
    const double middle = (count - 1) / 2;
    double cross = 0;
    for (std::size_t i = 0; i < times.size(); ++i)
        cross += (static_cast<double>(i) - middle) * (times[i] - times.front());
    return cross / (count * (count * count - 1) / 12);
}

TimeFit fit_quantised(std::span<const double> times, double quantum) {
    TimeFit fit{.step = least_squares_step(times), .even = true, .quantised = true};
    double lowest = 0;
    double highest = 0;
    for (std::size_t i = 0; i < times.size(); ++i) {
        const double off = times[i] - times.front() - fit.step * static_cast<double>(i);
        lowest = std::min(lowest, off);
        highest = std::max(highest, off);
    }
    fit.even = highest - lowest <= quantum_room * quantum + even_tolerance_ratio * fit.step;
    return fit;
}

/// Nearly all differences are the same, and no smaller than what is printed.
bool is_exact(std::span<const double> times, double quantum) {
    constexpr double nearly_all = 0.98;
    constexpr double many = 0.75;       // in a short file one bad row spoils two of few differences
    constexpr double whole_quanta = 2;  // then the whole length must be so many steps, too
    constexpr double same = 1e-3;       // of a step: rounding of doubles, not of the printed digits
    std::vector<double> steps;
    for (std::size_t i = 1; i < times.size(); ++i) steps.push_back(times[i] - times[i - 1]);
    std::vector<double> sorted = steps;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    const double median = *middle;
    if (!(median > 0) || median < quantum * (1 - same)) return false;
    const auto alike = std::count_if(steps.begin(), steps.end(), [median](double step) {
        return std::abs(step - median) <= same * median;
    });
    const auto count = static_cast<double>(steps.size());
    const double share = static_cast<double>(alike) / count;
    const double left_over = std::abs(median * count - (times.back() - times.front()));
    return share >= nearly_all || (share >= many && left_over <= whole_quanta * quantum);
}

}  // namespace

void StampResolution::see(std::string_view stamp) {
    int digits = 0;
    int decimals = 0;
    int exponent = 0;
    bool fraction = false;
    for (std::size_t i = 0; i < stamp.size(); ++i) {
        const char c = stamp[i];
        if (c == '.' || c == ',' || c == ':') {  // "00:250": milliseconds
            fraction = true;
        } else if (c >= '0' && c <= '9') {
            if (digits > 0 || c != '0') ++digits;
            if (fraction) ++decimals;
        } else if (c == 'e' || c == 'E') {
            bool minus = false;
            for (++i; i < stamp.size() && exponent < 1000; ++i) {
                if (stamp[i] == '-') minus = true;
                if (stamp[i] >= '0' && stamp[i] <= '9') exponent = exponent * 10 + (stamp[i] - '0');
            }
            if (minus) exponent = -exponent;
        }
    }
    if (digits == 0) exponent = 0;
    decimals_ = std::max(decimals_, decimals - exponent);
    digits_ = std::max(digits_, digits);
}

double StampResolution::quantum(double time) const {
    // A double shows about 15 digits, whatever is printed.
    const double decimal = std::pow(10.0, -decimals_);
    if (time == 0) return decimal;
    const double leading = std::floor(std::log10(std::abs(time)));
    return std::max(decimal, std::pow(10.0, leading - std::min(digits_, 15) + 1));
}

TimeFit fit_times(std::span<const double> times, const StampResolution& resolution) {
    if (times.size() < 2) return {};
    const double span = times.back() - times.front();
    const double mean = span / static_cast<double>(times.size() - 1);
    if (!(mean > 0)) return {};
    const double quantum = std::max(resolution.quantum(times.front()), resolution.quantum(times.back()));
    const bool exact = is_exact(times, quantum);
    if (quantum > quantised_ratio * mean && !exact) {
        const TimeFit fit = fit_quantised(times, quantum);
        if (fit.even && fit.step > 0) return fit;
    }
    std::vector<double> steps;
    for (std::size_t i = 1; i < times.size(); ++i)
        if (times[i] > times[i - 1]) steps.push_back(times[i] - times[i - 1]);
    std::vector<double> sorted = steps;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    const double median = *middle;
    double whole = 0;
    double advance = 0;
    std::size_t holes = 0;
    for (const double step : steps) {
        const double count = std::max(1.0, std::round(step / median));
        whole += count;
        advance += step;
        holes += count > 1 ? 1 : 0;
    }
    TimeFit fit{.step = advance / whole, .even = true, .exact = exact, .quantised = false};
    const double room = even_tolerance_ratio * fit.step + 2 * quantum;
    for (const double step : steps)
        if (std::abs(step - std::max(1.0, std::round(step / median)) * fit.step) > room) fit.even = false;
    if (static_cast<double>(holes) > std::max(1.0, most_holes_ratio * static_cast<double>(steps.size())))
        fit.even = false;
    // Uneven: the usual step, but never so fine that bursts blow the grid up.
    if (!fit.even) fit.step = std::max(median, mean / 10);
    return fit;
}

RowClock::RowClock(const TimeFit& fit, StampResolution resolution)
    : step_(fit.step), exact_(fit.exact), resolution_(resolution) {}

double RowClock::blur(double quantum) const {
    constexpr double rounding = 1.01;  // a step of one quantum, but for rounding
    return exact_ && quantum <= rounding * step_ ? 0 : quantum;
}

RowClock::Place RowClock::place(double time, std::string_view text) {
    if (rows_++ == 0) {
        first_ = last_ = expected_ = time;
        return {};
    }
    const double before = std::exchange(last_, time);
    expected_ += step_;
    double off = time - expected_;
    if (std::abs(off) <= follow_tolerance_ratio * step_ && time > before) {
        expected_ += follow_gain * off;
        return {};
    }
    if (time < before) return {Verdict::backwards, 0};
    resolution_.see(text);
    const double quantum = resolution_.quantum(time);
    const bool hides_a_step = exact_ ? blur(quantum) > 0 : quantum >= quantised_ratio * step_;
    if (time == before && !hides_a_step) return {Verdict::repeated, 0};
    const double room = follow_tolerance_ratio * step_ + quantum_room * blur(quantum);
    if (std::abs(off) <= room) {
        expected_ += follow_gain * off;
        return {};
    }
    const double missing = std::round(off / step_);
    if (missing < 1) return {Verdict::uneven, 0};
    ++holes_;
    if (holes_ > always_allowed_holes &&
        static_cast<double>(holes_) > most_holes_ratio * static_cast<double>(rows_))
        return {Verdict::uneven, 0};
    constexpr double most_missing = 1e15;  // beyond any file; the caller refuses long before
    expected_ = time;
    return {Verdict::on_grid, static_cast<std::size_t>(std::min(missing, most_missing))};
}

}  // namespace evenstroke::reading
