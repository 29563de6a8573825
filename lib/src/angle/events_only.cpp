#include "events_only.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "cranking/load_signal.hpp"
#include "signal/fft.hpp"
#include "signal/levels.hpp"
#include "starter_speed.hpp"

namespace evenstroke::angle {

namespace {

using Complex = std::complex<double>;

/// The slowest speed sought, with a wide margin.
constexpr double slowest_rpm = 55;
/// Rate at which the load is looked at: above twice the highest line of interest.
constexpr double working_rate_hz = 500;
/// Standard deviation of one compression's hump about TDC, crank degrees: most of the gas torque acts within
/// 60 degrees.
constexpr double hump_sd_deg = 25;
/// The spectrum is padded to this many times its length, so that a line is never missed between two bins.
constexpr std::size_t padding = 8;
/// Speeds are tried in steps of this ratio: a quarter of a line's width in a six-second recording.
constexpr double speed_step_ratio = 1.002;
/// The load must repeat from cycle to cycle at least this well (correlation) to hold compressions.
constexpr double least_correlation = 0.25;
/// Knots a cycle.
constexpr int knots_a_cycle = 8;

struct Settled {
    std::vector<float> load;  ///< low-passed and thinned to about the working rate
    double rate_hz = 0;
    double start_s = 0;
    [[nodiscard]] double duration_s() const { return static_cast<double>(load.size()) / rate_hz; }
};

Settled thin(const Trace& trace, const Cranking& cranking) {
    const std::vector<float> whole = cranking::load_of(trace).values;
    const auto sample = [&](double time_s) {
        return static_cast<std::size_t>(
            std::clamp((time_s - trace.start_s) * trace.rate_hz, 0.0, static_cast<double>(whole.size())));
    };
    const std::size_t first = sample(cranking.settled_s);
    const std::size_t last = std::max(first, sample(cranking.end_s));
    const auto step = static_cast<std::size_t>(std::max(1.0, std::floor(trace.rate_hz / working_rate_hz)));
    const std::vector<float> smooth =
        signal::moving_mean(std::span(whole).subspan(first, last - first), step);
    Settled settled{.rate_hz = trace.rate_hz / static_cast<double>(step), .start_s = trace.time_s(first)};
    for (std::size_t i = 0; i < smooth.size(); i += step) settled.load.push_back(smooth[i]);
    return settled;
}

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

/// Cycle period whose lines match the layout's best. Lines are weighted by their frequency, which undoes the
/// smoothing by the engine's inertia (load torque goes as the rate of change of the current).
double match_cycle_s(const Settled& settled, const std::vector<Complex>& lines) {
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
    double best_score = 0;
    double best_s = 0;
    for (double rpm = slowest_rpm; rpm <= fastest_cranking_rpm; rpm *= speed_step_ratio) {
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
        if (score > best_score) {
            best_score = score;
            best_s = 1 / cycle_hz;
        }
    }
    return best_s;
}

/// Complex amplitude of `frequency_hz` in a Hann window of `width_s` about `centre_s` (seconds from the first
/// sample), with the phase counted from the first sample.
Complex demodulate(const Settled& settled, double frequency_hz, double centre_s, double width_s) {
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

Phase follow(const Settled& settled, double cycle_s, int order) {
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
    const auto above = static_cast<std::size_t>(
        std::upper_bound(phase.time_s.begin(), phase.time_s.end(), time_s) - phase.time_s.begin());
    return line(above - 1, above, above - 1);
}

/// Where in the cycle (0 to 1) position 0's TDC lies: the shift at which the train of humps fits the mean
/// cycle best.
double fit_start(const Settled& settled, const Phase& phase, const std::vector<Complex>& lines) {
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

void add_knots(const Settled& settled, const Phase& phase, double start, CrankAngle& angle) {
    const double end_s = settled.duration_s();
    const int steps =
        static_cast<int>(std::ceil((cycle_at(phase, end_s) - cycle_at(phase, 0)) * knots_a_cycle));
    const double base = std::ceil(cycle_at(phase, 0) - start) + start;  // the first TDC of position 0
    for (int i = 0; i <= steps; ++i) {
        const double time_s = end_s * i / steps;
        angle.time_s.push_back(settled.start_s + time_s);
        angle.angle_deg.push_back(cycle_deg * (cycle_at(phase, time_s) - base));
    }
}

/// The events' rate tells cylinders times speed; neither alone. So what was assumed is said, and doubted
/// where it makes a speed that starters hardly turn.
Notice assumed_count(const EngineLayout& layout, double speed_rpm) {
    const int count = layout.cylinders();
    const std::string follows =
        fmt::format("{} cylinder{} {} taken as given, and {:.0f} rpm follows from it", count,
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

CrankAngle by_events(const Trace& trace, const Cranking& cranking, const EngineLayout& layout) {
    CrankAngle angle{.kind = ReferenceKind::none};
    angle.offset_sd_deg = hump_sd_deg;
    if (flat(cranking)) {
        angle.no_reference =
            "The load hardly varies while the starter turns: nothing seems to compress (spark plugs out, a "
            "decompression device, or the starter turns without the engine).";
        return angle;
    }
    const Settled settled = thin(trace, cranking);
    if (settled.duration_s() < 2 * 60 / fastest_cranking_rpm || settled.load.size() < 16) {
        angle.no_reference = "The settled cranking is too short to hold two cycles. Crank for five seconds.";
        return angle;
    }
    const std::vector<Complex> lines = train_lines(layout);
    const double cycle_s = match_cycle_s(settled, lines);
    const auto lags = signal::autocorrelation(settled.load);
    const auto lag = static_cast<std::size_t>(std::lround(cycle_s * settled.rate_hz));
    if (!(cycle_s > 0) || lag >= lags.size() || settled.duration_s() < 2 * cycle_s) {
        angle.no_reference =
            "Fewer than two whole cycles of settled cranking were recorded. Crank for five seconds.";
        return angle;
    }
    if (static_cast<double>(lags[lag]) < least_correlation) {
        angle.no_reference =
            "The load does not repeat from cycle to cycle: no compression events can be identified in it. "
            "Check that the plugs are in and the clamp is round one battery cable, with all its strands "
            "running the same way.";
        return angle;
    }
    std::size_t strongest = 0;
    for (std::size_t k = 0; k < lines.size(); ++k)
        if (std::abs(lines[k]) > 1.001 * std::abs(lines[strongest])) strongest = k;
    const Phase phase = follow(settled, cycle_s, static_cast<int>(strongest) + 1);
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
