#include "wheel_model.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "evenstroke/engine.hpp"
#include "signal/interpolate.hpp"
#include "signal/linear.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// Valves closed from intake closing to exhaust opening, degrees after firing TDC; usual road engines close
/// the intake 40 to 60 degrees after the bottom. From memory.
constexpr double intake_closes_deg = -130.0;
constexpr double exhaust_opens_deg = 130.0;
/// Cranking compression with heat loss and blow-by; references.md B2.5 prints 1.2 to 1.3.
constexpr double exponent = 1.3;
/// Relative strengths hardly depend on the ratio: 9 and 12 gave the same within a point on a real engine.
constexpr double compression_ratio = 10.0;
/// Step of the integration, seconds: about 3 degrees of crank.
constexpr double step_s = 0.002;
/// How fast the starter pulls the speed back: torque per speed over inertia. Searched over these, with a
/// preference for the middle, because a short settled recording hardly tells.
constexpr std::array<double, 6> starter_rates_hz = {1.5, 2.5, 4.0, 6.0, 9.0, 14.0};
constexpr double usual_rate_hz = 5.0;
constexpr double ln_rate_sd = 0.9;
constexpr double phase_step_deg = 5.0;
/// A TDC that the user gave may be off by the play of sensor and pistons.
constexpr double known_phase_play_deg = 15.0;
constexpr double refined_deg = 10.0;
/// Slow changes (battery, oil) may bend the speed once in so many cycles: fast enough for them, too slow to
/// imitate a weak cylinder.
constexpr double cycles_per_bend = 3.0;
/// A phase further than this from the likeliest lays the intervals elsewhere: firings are at least 45 degrees
/// apart in sixteen cylinders, and half of that is refinement.
constexpr double elsewhere_deg = 25.0;
constexpr int table_half_deg = 180;

/// Gas torque of one compression over intake pressure and displacement, at whole degrees -180 … 180.
const std::vector<double>& torque_table() {
    static const std::vector<double> table = [] {
        Geometry geometry;
        geometry.compression_ratio = compression_ratio;
        const double closed_m3 = volume_m3(geometry, intake_closes_deg * pi / 180);
        std::vector<double> torque;
        for (int degree = -table_half_deg; degree <= table_half_deg; ++degree) {
            const double rad = degree * pi / 180;
            const bool closed = degree >= intake_closes_deg && degree <= exhaust_opens_deg;
            const double gauge = closed ? std::pow(closed_m3 / volume_m3(geometry, rad), exponent) - 1 : 0.0;
            torque.push_back(gauge * volume_slope_m3_per_rad(geometry, rad) / displacement_m3(geometry));
        }
        return torque;
    }();
    return table;
}

double torque_at(double after_tdc_deg) {
    const double place = after_tdc_deg + table_half_deg;
    if (place < 0 || place >= 2 * table_half_deg) return 0;
    const auto i = static_cast<std::size_t>(place);
    const double share = place - static_cast<double>(i);
    const auto& table = torque_table();
    return table[i] * (1 - share) + table[i + 1] * share;
}

int bends(const WheelMotion& motion) {
    return static_cast<int>(motion.turned_deg() / cycle_deg / cycles_per_bend);
}

/// A bump of height 1 at bend `index` of `count`, falling to 0 at its neighbours; the last keeps its height.
double bend_at(double share, int index, int count) {
    return std::clamp(1 - std::abs(share * count - (index + 1)), 0.0, 1.0);
}

std::vector<int> positions_of(std::span<const Event> events) {
    std::vector<int> columns;
    for (const Event& event : events) columns.push_back(event.position);
    return columns;
}

/// Lower is likelier; the residuals of neighbouring teeth are alike, so each compression counts twice only.
double cost(const WheelMotion& motion, const LinearFit& fit) {
    const double events = motion.turned_deg() / cycle_deg * static_cast<double>(motion.tdc_deg.size());
    const double off = std::log(fit.starter_rate_hz / usual_rate_hz) / ln_rate_sd;
    return 2 * events * std::log(fit.squares + 1e-12) + off * off;
}

LinearFit solve(const WheelMotion& motion, const Eigen::MatrixXd& matrix, double phase_deg, double rate_hz) {
    LinearFit fit;
    fit.phase_deg = phase_deg;
    fit.starter_rate_hz = rate_hz;
    const Eigen::VectorXd all = signal::least_squares(matrix, motion.rad_per_s);
    fit.model = matrix * all;
    fit.squares = (motion.rad_per_s - fit.model).squaredNorm();
    fit.strength = all.head(static_cast<Eigen::Index>(motion.tdc_deg.size()));
    fit.cost = cost(motion, fit);
    return fit;
}

std::vector<double> phases_to_try(const WheelMotion& motion, std::span<const double> known_phases_deg) {
    std::vector<double> phases;
    for (const double known : known_phases_deg)
        for (double off = -known_phase_play_deg; off < known_phase_play_deg; off += phase_step_deg)
            phases.push_back(known + off);
    if (known_phases_deg.empty())
        for (double phase = 0; phase < motion.repeat_deg; phase += phase_step_deg) phases.push_back(phase);
    return phases;
}

}  // namespace

Pitches pitches_of(const WheelMotion& motion) {
    Pitches pitches;
    for (std::size_t k = 0; k + 1 < motion.angle_deg.size(); ++k)
        pitches.deg.push_back(motion.angle_deg[k + 1] - motion.angle_deg[k]);
    pitches.usual_deg = signal::median(pitches.deg);
    return pitches;
}

std::vector<Event> compressions_of(const WheelMotion& motion, double phase_deg) {
    std::vector<Event> events;
    const double reach = exhaust_opens_deg;
    const int first = static_cast<int>(std::floor((motion.angle_deg.front() - phase_deg) / cycle_deg)) - 1;
    const int last = static_cast<int>(std::ceil((motion.angle_deg.back() - phase_deg) / cycle_deg)) + 1;
    for (int cycle = first; cycle <= last; ++cycle)
        for (std::size_t position = 0; position < motion.tdc_deg.size(); ++position) {
            const double tdc = phase_deg + motion.tdc_deg[position] + cycle * cycle_deg;
            if (tdc > motion.angle_deg.front() - reach && tdc < motion.angle_deg.back() + reach)
                events.push_back({tdc, static_cast<int>(position), cycle});
        }
    return events;
}

Eigen::MatrixXd design(const WheelMotion& motion, std::span<const Event> events,
                       std::span<const int> column_of_event, int columns, double starter_rate_hz) {
    const double start_s = motion.time_s.front();
    const double span_s = motion.time_s.back() - start_s;
    const auto steps = static_cast<Eigen::Index>(std::ceil(span_s / step_s)) + 1;
    Eigen::MatrixXd speed = Eigen::MatrixXd::Zero(steps, columns);
    const double decay = std::exp(-starter_rate_hz * step_s);
    const double gain = (1 - decay) / starter_rate_hz;
    std::size_t knot = 0;
    std::size_t first_event = 0;
    for (Eigen::Index i = 0; i < steps; ++i) {
        const double t = std::min(start_s + static_cast<double>(i) * step_s, motion.time_s.back());
        while (knot + 2 < motion.time_s.size() && motion.time_s[knot + 1] < t) ++knot;
        const double angle = signal::line_through(motion.time_s, motion.angle_deg, knot, knot + 1, t);
        if (i > 0) speed.row(i) = decay * speed.row(i - 1);
        while (first_event < events.size() && events[first_event].tdc_deg < angle - table_half_deg)
            ++first_event;
        for (std::size_t e = first_event; e < events.size(); ++e) {
            if (events[e].tdc_deg > angle + table_half_deg) break;
            speed(i, column_of_event[e]) += gain * torque_at(angle - events[e].tdc_deg);
        }
    }
    const int slow = bends(motion);
    Eigen::MatrixXd matrix(motion.rad_per_s.size(), columns + 2 + slow);
    for (Eigen::Index k = 0; k < matrix.rows(); ++k) {
        const auto tooth = static_cast<std::size_t>(k);
        const double middle = (motion.time_s[tooth] + motion.time_s[tooth + 1]) / 2 - start_s;
        const auto i = std::min<Eigen::Index>(static_cast<Eigen::Index>(middle / step_s), steps - 2);
        const double share = middle / step_s - static_cast<double>(i);
        matrix.row(k).head(columns) = (1 - share) * speed.row(i) + share * speed.row(i + 1);
        matrix(k, columns) = 1;
        matrix(k, columns + 1) = std::exp(-starter_rate_hz * middle);
        for (int b = 0; b < slow; ++b) matrix(k, columns + 2 + b) = bend_at(middle / span_s, b, slow);
    }
    return matrix;
}

LinearFit fit_at(const WheelMotion& motion, double phase_deg, double starter_rate_hz) {
    const auto events = compressions_of(motion, phase_deg);
    const auto columns = positions_of(events);
    return solve(motion,
                 design(motion, events, columns, static_cast<int>(motion.tdc_deg.size()), starter_rate_hz),
                 phase_deg, starter_rate_hz);
}

std::vector<LinearFit> fit_motion(const WheelMotion& motion, std::span<const double> known_phases_deg,
                                  int most_places) {
    std::vector<LinearFit> places;
    const auto consider = [&motion](double phase, double rate, LinearFit& best) {
        LinearFit fit = fit_at(motion, phase, rate);
        // Compression slows the crank before TDC: a phase at which it would speed it up is half way off.
        if (fit.strength.mean() > 0 && (best.strength.size() == 0 || fit.cost < best.cost))
            best = std::move(fit);
    };
    const auto elsewhere = [&](double phase) {
        return std::none_of(places.begin(), places.end(), [&](const LinearFit& place) {
            return std::abs(std::remainder(phase - place.phase_deg, motion.repeat_deg)) <= elsewhere_deg;
        });
    };
    const std::vector<double> phases = phases_to_try(motion, known_phases_deg);
    while (static_cast<int>(places.size()) < most_places) {
        LinearFit best;
        for (const double phase : phases)
            if (elsewhere(phase)) consider(phase, usual_rate_hz, best);
        if (best.strength.size() == 0) break;
        const double coarse = best.phase_deg;
        for (const double rate : starter_rates_hz)
            for (double off = -refined_deg; off <= refined_deg; off += phase_step_deg / 2)
                consider(coarse + off, rate, best);
        places.push_back(std::move(best));
    }
    std::sort(places.begin(), places.end(),
              [](const LinearFit& a, const LinearFit& b) { return a.cost < b.cost; });
    return places;
}

}  // namespace evenstroke::contribution::wheel
