// Drawn engines as a user has them: a recording, and what he would tell the program of it.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "evenstroke/analyse.hpp"
#include "evenstroke/synth.hpp"
#include "modes.hpp"

namespace accuracy {

/// "wheel", "wheel-lead", "wheel-cam".
[[nodiscard]] bool by_wheel(const std::string& mode);

/// The engine of that family and seed, with the sensors that `mode` needs.
[[nodiscard]] evenstroke::SynthOptions drawn_for(const std::string& mode, const std::string& family,
                                                 std::uint64_t seed);

/// What `crank` is told of its recording.
[[nodiscard]] evenstroke::AnalyseOptions options_for(const evenstroke::SynthOptions& drawn,
                                                     const std::string& mode);

/// Every engine of the task, not analysed yet: `Engine` has a `family` and a `seed`.
template <typename Engine>
std::vector<Engine> engines_of(const Task& task) {
    std::vector<Engine> engines;
    for (const std::string& family : evenstroke::synth_families())
        for (int k = 0; k < task.engines_each; ++k)
            engines.push_back({.family = family, .seed = task.first_seed + static_cast<std::uint64_t>(k)});
    return engines;
}

}  // namespace accuracy
