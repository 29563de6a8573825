#include "valves.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "cycle.hpp"
#include "signal/linear.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

/// Plateaux: where the valve is wide open and the piston slow, degrees after firing TDC.
constexpr int intake_first = -225, intake_last = -175;
constexpr int exhaust_first = 195, exhaust_last = 290;
/// A valve is looked for up to here, degrees from TDC on either side …
constexpr int farthest_deg = 178;
/// … and while the pressure has left the closed line by less than this: later it only follows the plateau.
constexpr double farthest_exhaust_kpa = 20, farthest_intake_kpa = 8;
/// Power of the distance that the departure follows: 2 for a lift that moves at full speed at once, 3 for one
/// that starts gently; the intake's is cut short by the piston, which keeps the pressure up.
constexpr double intake_power = 2, exhaust_power = 2.5;
/// Grid of the search, and how near to its ends the bend may lie.
constexpr double grid_deg = 0.5, margin_deg = 6;
constexpr std::size_t fewest_degrees = 24;
/// Neighbouring degrees err alike: this share of them counts.
constexpr double independent_share = 0.1;
/// A bend must lessen the squares by this much over what is left in one independent degree, F(2, n).
constexpr double least_gain = 8;
/// An intake that is still open holds the pressure down: on simulated engines it had risen to 1.05 to 1.4
/// times the plateau where the valve truly closed. A bend found above that is the model's, 9 to 41 degrees
/// late.
constexpr double most_closing_ratio = 1.4;
/// What the crank's speed outside the fit and the valve's unknown opening law leave, sd (docs/pressure.md).
constexpr double model_sd_deg = 4;
using signal::normal_95;

std::optional<double> plateau(const Pressure& p, int first, int last) {
    std::vector<double> values;
    for (int a = first; a <= last; ++a)
        if (const auto v = mean_at(p, a)) values.push_back(*v);
    if (values.size() < static_cast<std::size_t>(last - first) / 2) return std::nullopt;
    return signal::median(std::move(values));
}

/// Distance from TDC and what the mean cycle lies above the closed line there.
struct Departure {
    std::vector<double> deg, kpa;
};

Departure departure(const Pressure& p, const ClosedLine& line, double farthest_kpa) {
    Departure d;
    const int side = line.step_deg > 0 ? 1 : -1;
    for (int x = static_cast<int>(std::ceil(std::abs(line.first_deg))); x <= farthest_deg; ++x) {
        const auto seen = mean_at(p, side * x);
        const auto closed = line.at(side * x);
        if (!seen || !closed) continue;
        const double above = *seen - *closed;
        if (!d.kpa.empty() && std::abs(above - d.kpa.front()) > farthest_kpa) break;
        d.deg.push_back(x);
        d.kpa.push_back(above);
    }
    return d;
}

/// Squares left by a straight line and, from `bend_deg` on, the power of the distance.
double left_over(const Departure& d, std::optional<double> bend_deg, double power) {
    const auto n = static_cast<Eigen::Index>(d.deg.size());
    Eigen::MatrixXd basis(n, bend_deg ? 3 : 2);
    Eigen::VectorXd y(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const double x = d.deg[static_cast<std::size_t>(i)];
        basis(i, 0) = 1;
        basis(i, 1) = (x - d.deg.front()) / 10;
        if (bend_deg) basis(i, 2) = std::pow(std::max(0.0, x - *bend_deg) / 10, power);
        y[i] = d.kpa[static_cast<std::size_t>(i)];
    }
    const Eigen::VectorXd c = signal::least_squares(basis, y);
    return (y - basis * c).squaredNorm();
}

/// Where the departure begins to bend, degrees from TDC; empty where no bend stands out.
std::optional<Figure> bend(const Departure& d, double power) {
    if (d.deg.size() < fewest_degrees) return std::nullopt;
    std::vector<double> at_deg, left;
    for (double x = d.deg.front() + margin_deg; x <= d.deg.back() - margin_deg; x += grid_deg) {
        at_deg.push_back(x);
        left.push_back(left_over(d, x, power));
    }
    const auto best = static_cast<std::size_t>(std::min_element(left.begin(), left.end()) - left.begin());
    const double independent = independent_share * static_cast<double>(d.deg.size());
    const double unit = std::max(left[best] / std::max(1.0, independent - 1), 1e-6);
    if (best == 0 || best + 1 == left.size() ||
        left_over(d, std::nullopt, power) - left[best] < 2 * least_gain * unit)
        return std::nullopt;
    std::size_t low = best, high = best;
    while (low > 0 && left[low] < left[best] + normal_95 * normal_95 * unit) --low;
    while (high + 1 < left.size() && left[high] < left[best] + normal_95 * normal_95 * unit) ++high;
    const double model = normal_95 * model_sd_deg;
    return Figure{at_deg[best], at_deg[best] - std::hypot(at_deg[best] - at_deg[low], model),
                  at_deg[best] + std::hypot(at_deg[high] - at_deg[best], model)};
}

}  // namespace

std::optional<double> ClosedLine::at(double deg) const {
    const double x = (deg - first_deg) / step_deg;
    if (!(x >= 0) || x > static_cast<double>(kpa.size()) - 1 || kpa.size() < 2) return std::nullopt;
    const auto i = std::min(static_cast<std::size_t>(x), kpa.size() - 2);
    return kpa[i] + (x - static_cast<double>(i)) * (kpa[i + 1] - kpa[i]);
}

void set_valves(Pressure& p, const ClosedLine& before, const ClosedLine& after) {
    p.intake_kpa = plateau(p, intake_first, intake_last);
    p.exhaust_kpa = plateau(p, exhaust_first, exhaust_last);
    const auto not_told = [](const char* what) {
        return std::string("No ") + what +
               " is given: the pressure leaves the closed line too gently to tell where. More cycles, or a "
               "quieter transducer, may show it.";
    };
    const auto closes = bend(departure(p, before, farthest_intake_kpa), intake_power);
    const auto there_kpa = closes ? mean_at(p, -static_cast<int>(std::lround(closes->value))) : std::nullopt;
    if (there_kpa && p.intake_kpa && *there_kpa > most_closing_ratio * *p.intake_kpa) {
        p.notices.push_back({"no-intake-closing",
                             "No intake closing is given: the pressure has already risen where it seemed to "
                             "be, and an open valve would have held it down."});
    } else if (closes) {
        p.intake_closes_deg = -closes->value;
        p.intake_closes_interval_deg = Figure{-closes->value, -closes->high, -closes->low};
    } else
        p.notices.push_back({"no-intake-closing", not_told("intake closing")});
    if (const auto opens = bend(departure(p, after, farthest_exhaust_kpa), exhaust_power)) {
        p.exhaust_opens_deg = opens->value;
        p.exhaust_opens_interval_deg = opens;
    } else
        p.notices.push_back({"no-exhaust-opening", not_told("exhaust opening")});
}

}  // namespace evenstroke::pressure
