#include "events_angle.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <numbers>

#include "events_speed.hpp"
#include "signal/fft.hpp"
#include "signal/interpolate.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::angle {

namespace {

/// Standard deviation of one compression's hump about TDC, crank degrees: most of the gas torque acts within
/// 60 degrees.
constexpr double hump_sd_deg = 25;
/// The load must repeat from cycle to cycle at least this well (correlation) to hold compressions.
constexpr double least_correlation = 0.25;
/// Knots a cycle.
constexpr int knots_a_cycle = 8;

/// Lines of a train of equal humps at the firing TDCs: order k (per cycle) from 1 on.
std::vector<Complex> train_lines(const EngineLayout& layout) {
    const int orders = std::max(8, 2 * layout.cylinders());
    std::vector<Complex> lines;
    for (int k = 1; k <= orders; ++k) {
        Complex sum = 0;
        for (const double tdc_deg : layout.firing_tdc_deg())
            sum += std::polar(1.0, -2 * std::numbers::pi * k * tdc_deg / cycle_deg);
        const double width = 2 * std::numbers::pi * k * hump_sd_deg / cycle_deg;
        lines.push_back(sum * std::exp(-width * width / 2));
    }
    return lines;
}

/// Complex amplitude of `frequency_hz` in a Hann window of `width_s` about `centre_s` (seconds from the first
/// sample), with the phase counted from the first sample.
Complex demodulate(const SettledLoad& settled, double frequency_hz, double centre_s, double width_s) {
    const auto last_index = static_cast<double>(settled.load.size() - 1);
    const auto first =
        static_cast<std::size_t>(std::clamp((centre_s - width_s / 2) * settled.rate_hz, 0.0, last_index));
    const auto last =
        static_cast<std::size_t>(std::clamp((centre_s + width_s / 2) * settled.rate_hz, 0.0, last_index));
    Complex sum = 0;
    Complex window_sum = 0;
    double weights = 0;
    double mean = 0;
    for (std::size_t i = first; i <= last; ++i) {
        const double time_s = static_cast<double>(i) / settled.rate_hz;
        const double hann = 0.5 + 0.5 * std::cos(2 * std::numbers::pi * (time_s - centre_s) / width_s);
        const Complex turn = std::polar(hann, -2 * std::numbers::pi * frequency_hz * time_s);
        sum += static_cast<double>(settled.load[i]) * turn;
        window_sum += turn;
        mean += hann * static_cast<double>(settled.load[i]);
        weights += hann;
    }
    return weights > 0 ? (sum - mean / weights * window_sum) / weights : Complex{};
}

/// Time and cycle count (a real number that grows by one a cycle) at steps of a fraction of a cycle.
struct Phase {
    std::vector<double> time_s;  ///< from the first settled sample
    std::vector<double> cycle;
    double mean_hz = 0;  ///< cycles a second as matched, for spans too short to follow
};

Phase follow(const SettledLoad& settled, double cycle_s, int order) {
    Phase phase{.mean_hz = 1 / cycle_s};
    const double frequency_hz = order / cycle_s;
    const double width_s = std::min(2 * cycle_s, settled.duration_s());
    const double step_s = cycle_s / knots_a_cycle;
    double turns = 0;  // phase beyond the mean frequency, unwrapped, in turns of the line
    bool first = true;
    for (double t = width_s / 2; t <= settled.duration_s() - width_s / 2 + 1e-9; t += step_s) {
        const double now = std::arg(demodulate(settled, frequency_hz, t, width_s)) / (2 * std::numbers::pi);
        turns = first ? now : turns + std::remainder(now - turns, 1.0);
        first = false;
        phase.time_s.push_back(t);
        phase.cycle.push_back((frequency_hz * t + turns) / order);
    }
    return phase;
}

double cycle_at(const Phase& phase, double time_s) {
    const std::size_t count = phase.time_s.size();
    const auto line = [&](std::size_t a, std::size_t b, std::size_t from) {
        const double slope =
            a < b ? (phase.cycle[b] - phase.cycle[a]) / (phase.time_s[b] - phase.time_s[a]) : phase.mean_hz;
        return phase.cycle[from] + slope * (time_s - phase.time_s[from]);
    };
    // Beyond the followed part the mean speed of the nearest whole cycle carries on.
    const std::size_t reach = std::min<std::size_t>(knots_a_cycle, count - 1);
    if (time_s <= phase.time_s.front()) return line(0, reach, 0);
    if (time_s >= phase.time_s.back()) return line(count - 1 - reach, count - 1, count - 1);
    const std::size_t knot = signal::stretch_of(phase.time_s, time_s);
    return line(knot, knot + 1, knot);
}

/// Where in the cycle (0 to 1) position 0's TDC lies: the shift at which the train of humps fits the mean
/// cycle best.
double fit_start(const SettledLoad& settled, const Phase& phase, const std::vector<Complex>& lines) {
    const double first = cycle_at(phase, 0);
    const double last = cycle_at(phase, settled.duration_s());
    const double whole = std::max(1.0, std::floor(last - first));
    std::vector<Complex> seen(lines.size(), 0);
    for (std::size_t i = 0; i < settled.load.size(); ++i) {
        const double cycle = cycle_at(phase, static_cast<double>(i) / settled.rate_hz);
        if (cycle - first >= whole) break;
        const Complex step = std::polar(1.0, -2 * std::numbers::pi * cycle);
        Complex turn = step;
        for (Complex& sum : seen) {
            sum += static_cast<double>(settled.load[i]) * turn;
            turn *= step;
        }
    }
    double best = 0;
    double best_score = -1e300;
    constexpr int steps = 1440;  // half a degree
    for (int s = 0; s < steps; ++s) {
        const double shift = static_cast<double>(s) / steps;
        double score = 0;
        for (std::size_t k = 0; k < lines.size(); ++k) {
            const auto order = static_cast<double>(k + 1);
            score += order *
                     (seen[k] * std::conj(lines[k]) * std::polar(1.0, 2 * std::numbers::pi * order * shift))
                         .real();
        }
        if (score > best_score) {
            best_score = score;
            best = shift;
        }
    }
    return best;
}

void add_knots(const SettledLoad& settled, const Phase& phase, double start, CrankAngle& angle) {
    const double end_s = settled.duration_s();
    const int steps =
        static_cast<int>(std::ceil((cycle_at(phase, end_s) - cycle_at(phase, 0)) * knots_a_cycle));
    const double base = std::ceil(cycle_at(phase, 0) - start) + start;  // the first TDC of position 0
    for (int i = 0; i <= steps; ++i) {
        const double time_s = end_s * i / steps;
        angle.time_s.push_back(settled.start_s + settled.ramp.time_s(time_s));
        angle.angle_deg.push_back(cycle_deg * (cycle_at(phase, time_s) - base));
    }
}

/// The events' rate tells cylinders times speed; neither alone. So what was assumed is said, and doubted
/// where it makes a speed that starters hardly turn.
Notice assumed_count(const EngineLayout& layout, double speed_rpm) {
    const int count = layout.cylinders();
    const std::string follows =
        fmt::format("{} cylinder{} {} taken as given, and about {:.0f} rpm follows from it", count,
                    count == 1 ? "" : "s", count == 1 ? "was" : "were", speed_rpm);
    if (speed_rpm >= usual_least_rpm && speed_rpm <= usual_most_rpm)
        return {"cylinders-assumed",
                "Without a sync, the compressions cannot separate the number of cylinders from the speed: " +
                    follows +
                    ". If the engine has another number, every figure here is wrong: correct --cylinders."};
    const double product = count * speed_rpm;
    const int least = std::max(1, static_cast<int>(std::ceil(product / usual_most_rpm)));
    const int most = std::min(max_cylinders, static_cast<int>(std::floor(product / usual_least_rpm)));
    const std::string instead =
        least < most    ? fmt::format("{} to {} cylinders would give a usual speed", least, most)
        : least == most ? fmt::format("{} cylinder{} would give a usual speed", least, least == 1 ? "" : "s")
                        : std::string("no number of cylinders gives a usual speed");
    return {"speed-unusual",
            fmt::format("{}, which is unusual for a starter ({:.0f} to {:.0f} rpm is common practice, no "
                        "published source); {}. Check --cylinders, or record a sync: the compressions alone "
                        "cannot separate the number of cylinders from the speed.",
                        follows, usual_least_rpm, usual_most_rpm, instead)};
}

}  // namespace

CrankAngle reference_by_events(const Trace& trace, const Cranking& cranking, const EngineLayout& layout) {
    CrankAngle angle{.kind = ReferenceKind::none};
    angle.offset_sd_deg = hump_sd_deg;
    if (flat(cranking)) {
        angle.no_reference =
            "The load hardly varies while the starter turns: nothing seems to compress (spark plugs out, a "
            "decompression device, or the starter turns without the engine).";
        return angle;
    }
    const SettledLoad recorded = settled_load_of(trace, cranking);
    if (recorded.duration_s() < 2 * 60 / fastest_cranking_rpm || recorded.load.size() < 16) {
        angle.no_reference = "The settled cranking is too short to hold two cycles. Crank for five seconds.";
        return angle;
    }
    const std::vector<Complex> lines = train_lines(layout);
    const auto [settled, cycle_s] = at_even_speed(recorded, lines);
    const auto lags = signal::autocorrelation(settled.load);
    const auto lag = static_cast<std::size_t>(std::lround(cycle_s * settled.rate_hz));
    if (!(cycle_s > 0) || lag >= lags.size() || settled.duration_s() < 2 * cycle_s) {
        angle.no_reference =
            "Fewer than two whole cycles of settled cranking were recorded. Crank for five seconds.";
        return angle;
    }
    constexpr const char* nothing_repeats =
        "The load does not repeat from cycle to cycle: no compression events can be identified in it. "
        "Check that the plugs are in and the clamp is round one battery cable, with all its strands "
        "running the same way.";
    if (static_cast<double>(lags[lag]) < least_correlation) {
        angle.no_reference = nothing_repeats;
        return angle;
    }
    std::size_t strongest = 0;
    for (std::size_t k = 0; k < lines.size(); ++k)
        if (std::abs(lines[k]) > 1.001 * std::abs(lines[strongest])) strongest = k;
    const Phase phase = follow(settled, cycle_s, static_cast<int>(strongest) + 1);
    // No engine turns back while it is cranked: what seems to is not followed.
    if (std::adjacent_find(phase.cycle.begin(), phase.cycle.end(), std::greater_equal<>()) !=
        phase.cycle.end()) {
        angle.no_reference = nothing_repeats;
        return angle;
    }
    double start = fit_start(settled, phase, lines);
    if (layout.fires_evenly()) {
        // Any cylinder may be position 0: take the first whose TDC lies in the settled part.
        const double interval = 1.0 / layout.cylinders();
        const double first = cycle_at(phase, 0);
        start = first + std::fmod(start - first, interval);
        if (start < first) start += interval;
    }
    add_knots(settled, phase, start, angle);
    const double cycles = cycle_at(phase, settled.duration_s()) - cycle_at(phase, 0);
    angle.cycles = static_cast<int>(cycles + 0.01);
    angle.speed_rpm = 120 * cycles / settled.duration_s();
    angle.notices.push_back(assumed_count(layout, angle.speed_rpm));
    return angle;
}

}  // namespace evenstroke::angle
