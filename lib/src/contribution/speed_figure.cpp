#include "speed_figure.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

double speed_between_rpm(const PhaseMap& phases, const CycleAngle& within, double from_s, double to_s) {
    const double turned_deg = within.degrees(phases.phase(to_s)) - within.degrees(phases.phase(from_s));
    return turned_deg / 6 / (to_s - from_s);
}

void include(Figure& speed_rpm, double rpm) {
    speed_rpm.low = std::min(speed_rpm.low, rpm);
    speed_rpm.high = std::max(speed_rpm.high, rpm);
}

std::optional<Figure> speed_figure(double rpm, std::span<const double> periods_s) {
    if (periods_s.size() < 2 || !(rpm > 0)) return std::nullopt;
    const auto count = static_cast<double>(periods_s.size());
    const double half = signal::student_t_quantile(signal::two_sided_95, count - 1) * rpm *
                        signal::standard_deviation(periods_s) / signal::mean(periods_s) / std::sqrt(count);
    return Figure{.value = rpm, .low = rpm - half, .high = rpm + half};
}

}  // namespace evenstroke::contribution
