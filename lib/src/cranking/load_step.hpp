// A load that drops while the engine does not start: the key let go, or another consumer switched off.
// Private to the library.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace evenstroke::cranking {

/// What dropped, and where: the last sample before it.
struct LoadStep {
    std::size_t at = 0;
    double drop = 0;          ///< in the load's unit
    bool starter_on = false;  ///< the humps go on behind it as before
};

/// The drop of a load at about sample `leaves`, where it left the range of cranking; empty where it is none:
/// it falls slowly, or the humps behind it are neither gone nor as before. An engine that starts takes the
/// load away over tenths of a second.
[[nodiscard]] std::optional<LoadStep> find_step(std::span<const float> smooth, double rate_hz,
                                                std::size_t leaves);

/// Another consumer that is switched off while the starter turns on, wherever in `smooth`: the steepest fall
/// of all.
[[nodiscard]] std::optional<LoadStep> find_switch_off(std::span<const float> smooth, double rate_hz);

}  // namespace evenstroke::cranking
