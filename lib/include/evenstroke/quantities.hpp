// What the same fit gives beside the contribution, once something more is known: the drive in N·m and mΩ from
// the battery's voltage at rest, peak pressures from one that was measured.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/evidence.hpp"

namespace evenstroke {

/// Each empty when the recording cannot tell.
struct DriveFigures {
    std::optional<Figure> torque_nm;    ///< mean torque at the crank while cranking, before gear losses
    std::optional<Figure> friction_nm;  ///< the part of it that is the engine's friction
    std::optional<Figure> stall_a;      ///< current with the rotor held
    std::optional<Figure> loop_mohm;    ///< starter, cables and battery together
    std::string
        battery_channel;  ///< whose rest the torques and the resistance follow from; empty without them
};

/// Of `battery` the voltage before the starter engages counts.
[[nodiscard]] DriveFigures drive_figures(const Contribution& contribution, const BatteryLevels& battery);

/// A peak pressure that was measured while cranking.
struct ReferencePeak {
    double kpa = 0;    ///< gauge
    int cylinder = 0;  ///< its name
};

/// Every position's peak gauge pressure in kPa, from one cylinder's; the measured one has no width. Empty
/// elements where the contribution is not known. Throws Error{bad_option} when no such cylinder is named.
[[nodiscard]] std::vector<std::optional<Figure>> peaks_kpa(const ReferencePeak& reference,
                                                           const CrankAngle& angle,
                                                           const Contribution& contribution,
                                                           const EngineLayout& layout);

/// Why none of the others' `peaks` follows from the measured one; empty where one does, or where the
/// contribution is inconclusive as a whole.
[[nodiscard]] std::optional<Notice> nothing_carried(const ReferencePeak& reference,
                                                    const std::vector<std::optional<Figure>>& peaks,
                                                    const Contribution& contribution);

}  // namespace evenstroke
