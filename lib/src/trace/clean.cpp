#include "clean.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <numbers>

#include "signal/levels.hpp"
#include "signal/periodicity.hpp"

namespace evenstroke::trace {

namespace {

/// Fewer samples than this at a rail are a peak, not a clip.
constexpr std::size_t shortest_clip = 3;
/// A parabola drawn with a step of q spends 0.41 of the top run's length on the next step; a clipped flank
/// far less.
constexpr double shoulder_ratio = 0.15;
/// A spike stands out from the median of its neighbourhood by this share of the whole range …
constexpr double spike_ratio = 0.05;
/// … and by this many times the usual step between neighbours.
constexpr double spike_steps = 12;
/// … and, where a coarse converter repeats most values, by more than so many of the steps that it makes:
/// noise about the edge of a code jumps by one, or by two.
constexpr double spike_codes = 2.5;
/// Half the neighbourhood of a spike, samples.
constexpr std::size_t spike_reach = 4;
/// Width of a mains notch, Hz: mains frequency holds within ±0.5 Hz, compressions a hertz away pass almost
/// untouched.
constexpr double notch_width_hz = 2;

float median_of(std::array<float, 2 * spike_reach + 1> window) {
    std::nth_element(window.begin(), window.begin() + spike_reach, window.end());
    return window[spike_reach];
}

/// Shares of the run's length spent just inside the rail, on both sides.
std::size_t shoulder(std::span<const float> values, Span run, double inner, bool top) {
    const auto inside = [&](std::size_t i) {
        const auto v = static_cast<double>(values[i]);
        return top ? v >= inner : v <= inner;
    };
    std::size_t count = 0;
    for (std::size_t i = run.first; i > 0 && inside(i - 1); --i) ++count;
    for (std::size_t i = run.last; i < values.size() && inside(i); ++i) ++count;
    return count;
}

/// The value next inside the rail, over all samples.
double next_inside(std::span<const float> values, float rail, bool top) {
    bool found = false;
    float next = rail;
    for (const float v : values) {
        if (v == rail) continue;
        if (!found || (top ? v > next : v < next)) next = v;
        found = true;
    }
    return static_cast<double>(next);
}

void add_runs_at(std::span<const float> values, float rail, bool top, std::vector<Span>& clipped) {
    const double inner = next_inside(values, rail, top);
    for (std::size_t i = 0; i < values.size();) {
        if (values[i] != rail) {
            ++i;
            continue;
        }
        Span run{.first = i, .last = i};
        while (run.last < values.size() && values[run.last] == rail) ++run.last;
        i = run.last;
        const auto length = run.last - run.first;
        if (length >= shortest_clip && static_cast<double>(shoulder(values, run, inner, top)) <=
                                           shoulder_ratio * static_cast<double>(length))
            clipped.push_back(run);
    }
}

}  // namespace

std::vector<Span> find_clipping(std::span<const float> values, bool top, bool bottom) {
    std::vector<Span> clipped;
    if (values.empty()) return clipped;
    const auto [lowest, highest] = std::minmax_element(values.begin(), values.end());
    if (*lowest == *highest) return clipped;
    if (top) add_runs_at(values, *highest, true, clipped);
    if (bottom) add_runs_at(values, *lowest, false, clipped);
    std::sort(clipped.begin(), clipped.end(), [](const Span& a, const Span& b) { return a.first < b.first; });
    return clipped;
}

std::size_t remove_spikes(std::span<float> values) {
    if (values.size() < 4 * spike_reach) return 0;
    const double range = signal::quantile(values, 0.999) - signal::quantile(values, 0.001);
    std::vector<float> steps(values.size() - 1);
    for (std::size_t i = 0; i + 1 < values.size(); ++i) steps[i] = std::abs(values[i + 1] - values[i]);
    std::vector<float> changes;
    std::copy_if(steps.begin(), steps.end(), std::back_inserter(changes),
                 [](float step) { return step > 0; });
    if (changes.empty()) return 0;
    const double least = std::max({spike_ratio * range, spike_steps * signal::quantile(steps, 0.7),
                                   spike_codes * signal::quantile(changes, 0.5)});
    if (!(least > 0)) return 0;
    std::size_t count = 0;
    for (std::size_t i = spike_reach; i + spike_reach < values.size(); ++i) {
        // Most samples differ little from the one before: nothing to ask there.
        if (static_cast<double>(std::abs(values[i] - values[i - 1])) < least / 2) continue;
        std::array<float, 2 * spike_reach + 1> window{};
        std::copy_n(values.begin() + static_cast<std::ptrdiff_t>(i - spike_reach), window.size(),
                    window.begin());
        const float centre = median_of(window);
        const auto stands_out = [&](std::size_t k) {
            return static_cast<double>(std::abs(values[k] - centre)) > least;
        };
        if (!stands_out(i)) continue;
        std::size_t last = i;
        while (last + 1 < values.size() && last - i < 3 && stands_out(last + 1)) ++last;
        if (last - i >= 3) continue;  // a step, not a spike
        const float left = values[i - 1];
        const float right = values[std::min(last + 1, values.size() - 1)];
        const auto width = static_cast<float>(last + 2 - i);
        for (std::size_t k = i; k <= last; ++k)
            values[k] = left + (right - left) * static_cast<float>(k + 1 - i) / width;
        ++count;
    }
    return count;
}

Hum find_hum(std::span<const float> quiet, double rate_hz) {
    Hum hum;
    for (const double frequency_hz : {50.0, 60.0}) {
        if (static_cast<double>(quiet.size()) < 3 * rate_hz / frequency_hz || rate_hz < 4 * frequency_hz)
            continue;
        const double amplitude = std::abs(signal::component(quiet, rate_hz, frequency_hz));
        if (amplitude > hum.amplitude) hum = {.frequency_hz = frequency_hz, .amplitude = amplitude};
    }
    return hum;
}

void remove_hum(std::span<float> values, double rate_hz, double frequency_hz) {
    for (int harmonic = 1; harmonic <= 3; ++harmonic) {
        const double centre_hz = harmonic * frequency_hz;
        if (centre_hz > 0.45 * rate_hz) return;
        // Second-order notch: zeros on the unit circle, poles just inside; run forward and back for zero
        // phase.
        const double omega = 2 * std::numbers::pi * centre_hz / rate_hz;
        const double alpha = std::tan(std::numbers::pi * notch_width_hz / rate_hz);
        const double gain = 1 / (1 + alpha);
        const double b1 = -2 * std::cos(omega) * gain;
        const double a2 = (1 - alpha) * gain;
        const auto pass = [&](auto first, auto last) {
            const auto start = static_cast<double>(*first);
            double x1 = start;
            double x2 = start;
            double y1 = start;
            double y2 = start;
            for (; first != last; ++first) {
                const auto x = static_cast<double>(*first);
                const double y = gain * (x + x2) + b1 * x1 - b1 * y1 - a2 * y2;
                x2 = x1;
                x1 = x;
                y2 = y1;
                y1 = y;
                *first = static_cast<float>(y);
            }
        };
        pass(values.begin(), values.end());
        pass(values.rbegin(), values.rend());
    }
}

}  // namespace evenstroke::trace
