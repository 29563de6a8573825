#include "speed_figure.hpp"

#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

std::optional<Figure> speed_figure(double rpm, std::span<const double> periods_s) {
    if (periods_s.size() < 2 || !(rpm > 0)) return std::nullopt;
    const auto count = static_cast<double>(periods_s.size());
    const double half = signal::student_t_quantile(signal::two_sided_95, count - 1) * rpm *
                        signal::standard_deviation(periods_s) / signal::mean(periods_s) / std::sqrt(count);
    return Figure{.value = rpm, .low = rpm - half, .high = rpm + half};
}

}  // namespace evenstroke::contribution
