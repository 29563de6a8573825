// Toothed wheels: which edge is which tooth, hence crank angle and speed. Private to the library.
// Method: docs/wheel.md.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "evenstroke/angle.hpp"
#include "evenstroke/engine.hpp"

namespace evenstroke {

inline constexpr double turn_deg = 360.0;  ///< of the crank

/// Every tooth of a stretch of the recording with its place on the wheel.
struct WheelTeeth {
    std::vector<double> time_s;     ///< ascending
    std::vector<double> angle_deg;  ///< ascending; 0, 360, … at the first tooth after the (longest) gap
    bool rising = false;            ///< which edge of the tooth was used
    int missed = 0;                 ///< teeth of the pattern that the recording lacks (bridged)
    int extra = 0;                  ///< edges that are no tooth (left out)
    double roughness = 0;           ///< mean |change of ln(speed)| from tooth to tooth, repairs included
};

/// Finds for every edge its tooth by the smoothest speed over the whole stretch. Both edge kinds are tried
/// and the more regular one kept. Empty when there are fewer edges than half a turn needs (at least 4).
[[nodiscard]] std::optional<WheelTeeth> align_teeth(std::span<const Edge> edges, const WheelPattern& pattern);

/// A pattern that the edges themselves show, or none. A wheel with a gap is known by it, whether in common
/// use or derived from the edges, if it is as wide as the pattern says and no repair returns with every turn.
/// An even wheel is known only through the ripple of the compressions, and only that tells whether a gap
/// comes once a turn, so `cylinders` (0: not known, or they do not fire evenly) must be right.
[[nodiscard]] std::optional<WheelPattern> recognise_wheel(std::span<const Edge> edges, int cylinders);

/// Speed between neighbouring teeth.
struct ToothSpeed {
    std::vector<double> time_s;     ///< middle of the tooth's period
    std::vector<double> angle_deg;  ///< middle of the tooth's pitch
    std::vector<double> rad_per_s;  ///< pitch over period
    std::vector<double> pitch_deg;  ///< pitch used, compensated where that was possible
};

/// Speed between the teeth at `time_s`, `angle_deg` (equally many, ascending). With `compensate`, errors of
/// pitch are taken out where at least four turns show the same deviation from a smooth speed; only
/// differences between neighbouring teeth can be told from true speed this way.
[[nodiscard]] ToothSpeed tooth_speed(std::span<const double> time_s, std::span<const double> angle_deg,
                                     bool compensate);

}  // namespace evenstroke
