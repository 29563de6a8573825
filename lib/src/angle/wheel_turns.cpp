#include "angle/wheel_turns.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstddef>
#include <optional>

#include "values/cranking_limits.hpp"

namespace evenstroke {

namespace {

/// What else a "turn" of the wheel may be, in turns of the crank's, and how many times the ripple at this
/// one's place must exceed that where the other would have it. A dead cylinder makes a ripple between the
/// compressions' own, two alike make as much as they: simulated, the ratio is 1.3 and more with one dead
/// cylinder of three to eight, 0.5 and less where the mark comes twice or three times a turn. A compression
/// is no sine, so that twice its order is never quiet: 2.1 and more there, and 1.6 and less on a cam with two
/// dead cylinders.
struct Rival {
    double turns;
    double least_ratio;
};
constexpr std::array<Rival, 3> rivals = {{{1. / 2, 1.2}, {1. / 3, 1.2}, {2, 2}}};
/// Where the ripple is so many times larger at the other's place, this one is wrong: one or two dead
/// cylinders make it 1.6 times as large at most, simulated …
constexpr double wrong_ratio = 2;
/// … and it swings the speed by so much, which reciprocating masses do not.
constexpr double least_wrong_swing = 0.02;
/// Wheels with more than one gap a turn are not made with more positions. Common practice, no published list.
constexpr double most_positions_with_gaps = 60;
/// Less than this swing of the speed may be the wheel's own error of form rather than compressions.
constexpr double least_swing = 0.01;
/// The share of the edges that may be run-up, which would drown the ripple.
constexpr std::size_t run_up_part = 3;
/// So few turns do not tell the orders apart.
constexpr double fewest_turns = 4;

/// Swing of the speed at `order` times a turn, as a share of its mean, from tooth `first` on; faded in and
/// out, since the stretch is no whole number of cycles.
double swing(const ToothSpeed& speed, std::size_t first, double order) {
    const double begin = speed.angle_deg[first];
    const double length = speed.angle_deg.back() - begin;
    double weights = 0;
    double mean = 0;
    std::complex<double> wave = 0;
    std::complex<double> carrier = 0;
    for (std::size_t i = first; i < speed.rad_per_s.size(); ++i) {
        const double at = (speed.angle_deg[i] - begin) / length;
        const double weight = speed.pitch_deg[i] * (1 - std::cos(2 * pi * at));
        const auto turn = std::polar(weight, -order * speed.angle_deg[i] * pi / 180);
        weights += weight;
        mean += weight * speed.rad_per_s[i];
        wave += speed.rad_per_s[i] * turn;
        carrier += turn;
    }
    mean /= weights;
    return 2 * std::abs(wave - mean * carrier) / (weights * mean);
}

/// The settled part of the wheel's speed.
struct Settled {
    ToothSpeed speed;
    std::size_t first = 0;
    double turns = 0;
    double rpm = 0;
};

std::optional<Settled> settled(const WheelTeeth& teeth) {
    Settled s{.speed = tooth_speed(teeth.time_s, teeth.angle_deg, false)};
    s.first = s.speed.rad_per_s.size() / run_up_part;
    if (s.first + 1 >= s.speed.rad_per_s.size()) return {};
    s.turns = (s.speed.angle_deg.back() - s.speed.angle_deg[s.first]) / turn_deg;
    s.rpm = s.turns * 60 / (s.speed.time_s.back() - s.speed.time_s[s.first]);
    return s;
}

bool cranks(double rpm) {
    return rpm >= slowest_searched_rpm && rpm <= fastest_cranking_rpm;
}

}  // namespace

bool turns_once(const WheelTeeth& teeth, int cylinders) {
    const auto s = settled(teeth);
    if (cylinders < 1 || !s || s->turns < fewest_turns || !cranks(s->rpm)) return false;
    const double order = cylinders / 2.0;
    const double ripple = swing(s->speed, s->first, order);
    return ripple > least_swing && std::all_of(rivals.begin(), rivals.end(), [&](const Rival& rival) {
               return !cranks(s->rpm * rival.turns) ||
                      ripple > rival.least_ratio * swing(s->speed, s->first, order * rival.turns);
           });
}

bool turns_otherwise(const WheelTeeth& teeth, const WheelPattern& pattern, int cylinders) {
    const auto s = settled(teeth);
    if (cylinders < 1 || !s || s->turns < fewest_turns) return false;
    const double order = cylinders / 2.0;
    const double ripple = swing(s->speed, s->first, order);
    const double positions = turn_deg / pattern.pitch_deg.front();
    return std::any_of(rivals.begin(), rivals.end(), [&](const Rival& rival) {
        if (!cranks(s->rpm * rival.turns) || positions / rival.turns > most_positions_with_gaps + 0.5)
            return false;
        const double other = swing(s->speed, s->first, order * rival.turns);
        return other > least_wrong_swing && other > wrong_ratio * ripple;
    });
}

}  // namespace evenstroke
