// The pressure transducer: from what stands in the cylinder, or in a gauge's hose, to the channel "Pressure".
#pragma once

#include <vector>

#include "synth/motion.hpp"

namespace evenstroke::synth {

/// First-order low-pass at the steps of the run: what a slow transducer shows of `true_kpa`. Exact for a
/// pressure that goes in straight lines from step to step; begins at rest.
[[nodiscard]] std::vector<double> lagging(const std::vector<double>& true_kpa, double bandwidth_hz);

/// Throws Error{bad_option} for what no transducer does.
void check_transducer(const SynthChain& chain);

/// `samples` readings at the chain's rate.
[[nodiscard]] Channel pressure_channel(const SynthOptions& options, const Motion& motion, std::size_t samples,
                                       Random& random);

}  // namespace evenstroke::synth
