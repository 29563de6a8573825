#include "thermo.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

constexpr int half_cycle = 360;
/// Plateaux: where the valve is wide open and the piston slow, degrees after firing TDC.
constexpr int intake_first = -225, intake_last = -175;
constexpr int exhaust_first = 195, exhaust_last = 290;
/// Closed for certain, and little affected by leak: from here the line is drawn back to the intake plateau.
constexpr int line_first = -84, line_last = -70;
constexpr double line_exponent = 1.38;  ///< of a charge that the walls hardly cool yet
/// The exhaust opens somewhere here, and the pressure then stays this far off the closed line for so many
/// degrees.
constexpr int open_first = 95, open_last = 179, departure_degrees = 5;
constexpr double least_departure_kpa = 4;
constexpr double degrees_of_freedom_share = 0.1;  ///< neighbouring degrees err alike

std::optional<double> at(const Pressure& p, int deg) {
    const auto i = static_cast<std::size_t>(deg + half_cycle);
    if (i >= p.cycle.pressure_kpa.size() || !std::isfinite(p.cycle.pressure_kpa[i])) return std::nullopt;
    return p.cycle.pressure_kpa[i];
}

std::optional<double> plateau(const Pressure& p, int first, int last) {
    std::vector<double> values;
    for (int a = first; a <= last; ++a)
        if (const auto v = at(p, a)) values.push_back(*v);
    if (values.size() < static_cast<std::size_t>(last - first) / 2) return std::nullopt;
    return signal::median(std::move(values));
}

double volume(const Pressure& p, double deg) {
    return volume_m3(p.geometry, deg * pi / 180);
}

/// Where the closed line through the early compression meets the intake plateau.
std::optional<double> intake_closing(const Pressure& p) {
    std::vector<double> constants;
    for (int a = line_first; a <= line_last; ++a)
        if (const auto v = at(p, a); v && *v > 0)
            constants.push_back(std::log(*v * std::pow(volume(p, a), line_exponent)));
    if (constants.size() < 5 || !p.intake_kpa || !(*p.intake_kpa > 0)) return std::nullopt;
    const double wanted = std::exp((signal::mean(constants) - std::log(*p.intake_kpa)) / line_exponent);
    for (double a = line_first; a >= -180; a -= 0.1)
        if (volume(p, a) >= wanted) return a;
    return std::nullopt;
}

/// Where the mean cycle leaves the closed expansion that the model draws on; empty when it never does.
std::optional<double> exhaust_opening(const Pressure& p, const std::vector<double>& closed_kpa) {
    int above = 0;
    for (int a = open_first; a <= open_last; ++a) {
        const auto v = at(p, a);
        const auto i = static_cast<std::size_t>(a);
        if (!v || i >= closed_kpa.size()) return std::nullopt;
        above = *v - closed_kpa[i] > least_departure_kpa ? above + 1 : 0;
        if (above == departure_degrees) return a - departure_degrees + 1;
    }
    return std::nullopt;
}

}  // namespace

std::optional<Figure> exponent(const Pressure& p, double first_deg, double last_deg, double offset_sd_kpa) {
    const auto slope = [&](double shift_kpa) -> std::optional<signal::Line> {
        std::vector<double> x, y;
        for (int a = static_cast<int>(first_deg); a <= static_cast<int>(last_deg); ++a) {
            const auto v = at(p, a);
            if (!v || *v + shift_kpa <= 0) continue;
            x.push_back(std::log(volume(p, a)));
            y.push_back(std::log(*v + shift_kpa));
        }
        if (x.size() < 10) return std::nullopt;
        return signal::fit_line(x, y);
    };
    const auto middle = slope(0), high = slope(offset_sd_kpa);
    if (!middle || !high) return std::nullopt;
    const double sd =
        std::hypot(middle->slope_se / std::sqrt(degrees_of_freedom_share), high->slope - middle->slope);
    constexpr double normal_95 = 1.96;
    const double n = -middle->slope;
    return Figure{n, n - normal_95 * sd, n + normal_95 * sd};
}

void set_valves(Pressure& p, const std::vector<double>& closed_kpa) {
    p.intake_kpa = plateau(p, intake_first, intake_last);
    p.exhaust_kpa = plateau(p, exhaust_first, exhaust_last);
    p.intake_closes_deg = intake_closing(p);
    p.exhaust_opens_deg = exhaust_opening(p, closed_kpa);
}

}  // namespace evenstroke::pressure
