#include "events_speed.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <span>
#include <utility>

#include "cranking/load_signal.hpp"
#include "signal/fft.hpp"
#include "signal/levels.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::angle {

namespace {

/// Rate at which the load is looked at: above twice the highest line of interest.
constexpr double working_rate_hz = 500;
/// The spectrum is padded to this many times its length, so that a line is never missed between two bins.
constexpr std::size_t padding = 8;
/// Speeds are tried in steps of this ratio: a quarter of a line's width in a six-second recording.
constexpr double speed_step_ratio = 1.002;
/// Speeds are tried that rise or sink by up to this share of their mean to either side (250 to 110 rpm) …
constexpr double most_ramp = 0.4;
/// … and by up to this share of it a second: a starter whose battery tires or oil warms changes no faster
/// (common practice, no published source), and in a short recording any few events lie on some ramp.
constexpr double most_ramp_per_s = 0.2;
/// The nearest step leaves the middle of a hundred events an eighth of one out against the ends, which is
/// followed.
constexpr double ramp_step = 0.01;
/// A ramp is believed when the lines match this much better than at a steady speed. On the bench and on drawn
/// engines whose speed changes by a few percent, which is followed anyway, the gain stays below.
constexpr double ramp_gain = 1.1;

/// A cycle's period, and how well the load's lines match the layout's there.
struct CycleMatch {
    double cycle_s = 0;
    double score = 0;
};

/// Cycle period whose lines match the layout's best. Lines are weighted by their frequency, which undoes the
/// smoothing by the engine's inertia (load torque goes as the rate of change of the current).
CycleMatch match_cycle(const SettledLoad& settled, const std::vector<Complex>& lines) {
    std::vector<float> windowed(settled.load);
    double mean = 0;
    for (const float v : windowed) mean += static_cast<double>(v);
    mean /= static_cast<double>(windowed.size());
    for (std::size_t i = 0; i < windowed.size(); ++i) {
        const double x =
            2 * std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(windowed.size());
        windowed[i] =
            static_cast<float>((static_cast<double>(windowed[i]) - mean) * (0.5 - 0.5 * std::cos(x)));
    }
    const std::size_t length = signal::fast_length(padding * windowed.size());
    const auto bins = signal::spectrum(windowed, length);
    const double bin_hz = settled.rate_hz / static_cast<double>(length);
    CycleMatch best;
    for (double rpm = slowest_searched_rpm; rpm <= fastest_cranking_rpm; rpm *= speed_step_ratio) {
        const double cycle_hz = rpm / 120;
        double score = 0;
        double weight = 0;
        for (std::size_t k = 0; k < lines.size(); ++k) {
            const double frequency_hz = static_cast<double>(k + 1) * cycle_hz;
            const auto bin = static_cast<std::size_t>(std::lround(frequency_hz / bin_hz));
            if (bin >= bins.size()) break;
            score += std::abs(lines[k]) * frequency_hz * static_cast<double>(std::abs(bins[bin]));
            weight += std::norm(lines[k]);
        }
        score /= std::sqrt(weight);
        if (score > best.score) best = {.cycle_s = 1 / cycle_hz, .score = score};
    }
    return best;
}

}  // namespace

SettledLoad settled_load_of(const Trace& trace, const Cranking& cranking) {
    const std::vector<float> whole = cranking::load_signal(trace).values;
    const std::size_t first = trace.sample_at(cranking.settled_s);
    const std::size_t last = std::max(first, trace.sample_at(cranking.end_s));
    const auto step = static_cast<std::size_t>(std::max(1.0, std::floor(trace.rate_hz / working_rate_hz)));
    const std::vector<float> smooth =
        signal::moving_mean(std::span(whole).subspan(first, last - first), step);
    SettledLoad settled{.rate_hz = trace.rate_hz / static_cast<double>(step), .start_s = trace.time_s(first)};
    for (std::size_t i = 0; i < smooth.size(); i += step) settled.load.push_back(smooth[i]);
    settled.ramp.duration_s = settled.duration_s();
    return settled;
}

SteadyLoad at_even_speed(const SettledLoad& recorded, const std::vector<Complex>& lines) {
    const CycleMatch as_recorded = match_cycle(recorded, lines);
    SteadyLoad best{.settled = recorded, .cycle_s = as_recorded.cycle_s};
    double best_score = ramp_gain * as_recorded.score;
    const double most = std::min(most_ramp, most_ramp_per_s * recorded.duration_s() / 2);
    const int steps = static_cast<int>(most / ramp_step);
    for (int step = -steps; step <= steps; ++step) {
        if (step == 0) continue;
        SettledLoad tried = recorded;
        tried.ramp.share = step * ramp_step;
        tried.load = steadied(recorded.load, tried.ramp);
        const CycleMatch match = match_cycle(tried, lines);
        if (match.score <= best_score) continue;
        best_score = match.score;
        best = {.settled = std::move(tried), .cycle_s = match.cycle_s};
    }
    return best;
}

}  // namespace evenstroke::angle
