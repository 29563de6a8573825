// The measuring chain: from the plant's motion to the channels of a recording.
#pragma once

#include <algorithm>
#include <vector>

#include "synth/motion.hpp"

namespace evenstroke::synth {

/// One edge of a wheel or cam, at a crank angle within its period.
struct Mark {
    double angle_rad = 0;
    bool rising = false;
};

/// Times at which the crank passes the marks, which repeat with `period_rad` and ascend within it. A crank
/// that rocks back passes them the other way round.
[[nodiscard]] std::vector<Edge> passings(const std::vector<double>& angle_rad, const std::vector<Mark>& marks,
                                         double period_rad, double jitter_s, Random& random);

/// Linear interpolation of a record at `place` steps.
template <typename T>
[[nodiscard]] double between(const std::vector<T>& record, double place) {
    const auto i = std::min(static_cast<std::size_t>(place), record.size() - 2);
    const double part = place - static_cast<double>(i);
    const auto a = static_cast<double>(record[i]), b = static_cast<double>(record[i + 1]);
    return a + part * (b - a);
}

/// Measures the motion as the chain says.
[[nodiscard]] Recording measure(const SynthOptions& options, const Motion& motion, std::uint64_t seed);

}  // namespace evenstroke::synth
