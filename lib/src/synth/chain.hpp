// The measuring chain: from the plant's motion to the channels of a recording.
#pragma once

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

/// Measures the motion as the chain says.
[[nodiscard]] Recording measure(const SynthOptions& options, const Motion& motion, std::uint64_t seed);

}  // namespace evenstroke::synth
