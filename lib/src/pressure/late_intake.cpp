#include "late_intake.hpp"

#include <cmath>
#include <vector>

#include "cycle.hpp"
#include "evenstroke/engine.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

/// Exponent of the early compression: the gas is near the walls' temperature (common practice, no published
/// source: 1.35 to 1.4).
constexpr double early_exponent = 1.37;
/// Where the cylinder is taken as shut, one that shut earlier, leaking or not, stands at 1.2 to 1.7 times the
/// pressure of the intake, in two simulations; one whose valves are 40 degrees late at 1.1 times, 60 at 0.8.
constexpr double least_start_ratio = 1.12;
/// Here even a late intake is shut, and the charge tells at which volume it stood at the intake's pressure.
constexpr int back_first_deg = -60, back_last_deg = -45;
/// A shut cylinder tells the same volume everywhere, a leaking one ever less: at most this share between the
/// ends.
constexpr double most_loss_share = 0.035;
/// That volume is passed before the valve is down: the last of its lift lets little back out. So many
/// degrees, 11 to 31 of them on two simulations of sound engines.
constexpr double seat_deg = 25, seat_half_width_deg = 15;
constexpr double earliest_deg = -170;

double volume(const Pressure& p, double deg) {
    return volume_m3(p.geometry, deg * pi / 180);
}

}  // namespace

std::optional<Figure> late_closing_deg(const Pressure& p, double taken_as_shut_deg, double start_kpa) {
    if (!p.geometry_known || !p.intake_kpa || !(*p.intake_kpa > 0)) return std::nullopt;
    if (start_kpa > least_start_ratio * *p.intake_kpa) return std::nullopt;
    std::vector<double> trapped_m3;
    for (int deg = back_first_deg; deg <= back_last_deg; ++deg) {
        const auto kpa = mean_at(p, deg);
        if (!kpa || !(*kpa > *p.intake_kpa)) return std::nullopt;
        trapped_m3.push_back(volume(p, deg) * std::pow(*kpa / *p.intake_kpa, 1 / early_exponent));
    }
    if (trapped_m3.back() < (1 - most_loss_share) * trapped_m3.front()) return std::nullopt;
    const double closing_m3 = signal::median(trapped_m3);
    double deg = earliest_deg;
    while (deg < back_first_deg && volume(p, deg) > closing_m3) deg += 0.5;
    deg += seat_deg;
    if (deg <= taken_as_shut_deg) return std::nullopt;
    return Figure{deg, deg - seat_half_width_deg, deg + seat_half_width_deg};
}

}  // namespace evenstroke::pressure
