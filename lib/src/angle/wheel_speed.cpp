// Speed from the periods of teeth, with errors of pitch taken out where they can be told from speed.
#include <array>
#include <cmath>
#include <map>

#include "angle/wheel.hpp"
#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

constexpr double radians_per_degree = pi / 180.0;
/// Turns that must show the same deviation before it is called an error of pitch.
constexpr std::size_t least_turns = 4;
/// The mean deviations must be this much larger than their own scatter explains.
constexpr double least_significance = 2.0;
/// The smoother leaves part of an error to its neighbours; so many rounds gather what is left.
constexpr int rounds = 4;
/// Quadratic smoothing over five teeth, /35 (Savitzky & Golay, Anal. Chem. 36, 1964, 1627).
constexpr std::array<double, 5> smoother = {-3. / 35, 12. / 35, 17. / 35, 12. / 35, -3. / 35};

/// Teeth at the same place of the wheel, to a hundredth of a degree.
long slot_of(double angle_deg) {
    double place = std::fmod(angle_deg, turn_deg);
    if (place < 0) place += turn_deg;
    return std::lround(place * 100) % std::lround(turn_deg * 100);
}

std::vector<double> deviations(std::span<const double> log_speed) {
    std::vector<double> deviation(log_speed.size(), 0.0);
    for (std::size_t i = 2; i + 2 < log_speed.size(); ++i) {
        double smooth = 0;
        for (std::size_t k = 0; k < smoother.size(); ++k) smooth += smoother[k] * log_speed[i + k - 2];
        deviation[i] = log_speed[i] - smooth;
    }
    return deviation;
}

/// Mean deviation of every place that enough turns show; empty when it is not more than chance.
std::map<long, double> steady_deviation(std::span<const double> angle_deg,
                                        std::span<const double> deviation) {
    std::map<long, std::vector<double>> places;
    for (std::size_t i = 2; i + 2 < deviation.size(); ++i)
        places[slot_of(angle_deg[i])].push_back(deviation[i]);
    std::map<long, double> means;
    double found = 0;
    double chance = 0;
    for (const auto& [slot, values] : places) {
        if (values.size() < least_turns) continue;
        const double error =
            signal::standard_deviation(values) / std::sqrt(static_cast<double>(values.size()));
        means[slot] = signal::median(values);
        found += means[slot] * means[slot];
        chance += error * error;
    }
    if (found < least_significance * least_significance * chance) return {};
    return means;
}

}  // namespace

ToothSpeed tooth_speed(std::span<const double> time_s, std::span<const double> angle_deg, bool compensate) {
    ToothSpeed speed;
    const std::size_t count = time_s.size() < 2 ? 0 : time_s.size() - 1;
    std::vector<double> log_speed(count);
    for (std::size_t i = 0; i < count; ++i) {
        speed.time_s.push_back((time_s[i] + time_s[i + 1]) / 2);
        speed.angle_deg.push_back((angle_deg[i] + angle_deg[i + 1]) / 2);
        speed.pitch_deg.push_back(angle_deg[i + 1] - angle_deg[i]);
        log_speed[i] = std::log(speed.pitch_deg[i] * radians_per_degree / (time_s[i + 1] - time_s[i]));
    }
    if (compensate)
        for (int round = 0; round < rounds; ++round) {
            const auto steady = steady_deviation(angle_deg, deviations(log_speed));
            for (std::size_t i = 0; i < count; ++i)
                if (const auto at = steady.find(slot_of(angle_deg[i])); at != steady.end()) {
                    log_speed[i] -= at->second;
                    speed.pitch_deg[i] *= std::exp(-at->second);
                }
        }
    for (const double value : log_speed) speed.rad_per_s.push_back(std::exp(value));
    return speed;
}

}  // namespace evenstroke
