// What the program can be asked for: one function a kind of measurement. Each prints its table.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace accuracy {

struct Task {
    std::string mode;
    int engines_each = 40;         ///< of every family
    std::uint64_t first_seed = 1;  ///< the engines of a family have this seed and those that follow
    std::optional<std::string> csv;
};

/// Modes "current", "voltage", "events", "wheel", "wheel-lead" and "wheel-cam"; CSV: one row a cylinder.
void run_contribution(const Task& task);

/// Mode "drive": the starter's figures, and the kind of each loss; no CSV.
void run_drive(const Task& task);

/// Mode "pressure"; CSV: one row a recording.
void run_pressure(const Task& task);

}  // namespace accuracy
