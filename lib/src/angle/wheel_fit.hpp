// One pattern laid over the edges, and whether it is what they show. Private to the library. Method:
// docs/wheel.md.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "angle/wheel.hpp"

namespace evenstroke {

struct WheelFit {
    WheelPattern pattern;
    WheelTeeth teeth;
    double roughness = 0;  ///< that of the teeth, and far more where they need too many repairs

    [[nodiscard]] int repairs() const { return teeth.missed + teeth.extra; }
    [[nodiscard]] double turns() const {
        return (teeth.angle_deg.back() - teeth.angle_deg.front()) / turn_deg;
    }
};

/// `text` laid over the edges; nothing when they do not fill a cycle.
[[nodiscard]] std::optional<WheelFit> laid(std::span<const Edge> edges, const std::string& text);

/// Whether `best`, the smoothest, is the pattern rather than any of `rivals`.
[[nodiscard]] bool clear(const WheelFit& best, std::span<const WheelFit> rivals);

/// Whether the edges are what the pattern would give: repairs do not return with every turn, and its gaps are
/// as wide, in the pitches beside them, as it says. 60-2 laid over 30-1 is nearly as smooth as if it were
/// right, and so is 36-1 over 18-1, with one tooth of 35 bridged.
[[nodiscard]] bool as_drawn(const WheelFit& fit);

/// Whether `shown`, of which the marks of the edges tell, is the pattern: as drawn, with no other mark, a gap
/// of no other width, and standing against `rivals`. It may be rougher than one of which they do not.
[[nodiscard]] bool clear_as_shown(std::span<const Edge> edges, const WheelFit& shown,
                                  std::span<const WheelFit> rivals);

}  // namespace evenstroke
