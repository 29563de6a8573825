#include "wheel_notices.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace evenstroke::contribution::wheel {

namespace {

/// A gap hides a compression when it takes, with half a tooth to either side, a third of the interval to the
/// next, and reaches into the crank's slow phase: from 30 degrees before TDC to 15 after it. Sixes on 24-2
/// and twelves on 36-2 read 20 points too low there (docs/wheel.md).
constexpr double wide_gap_share = 1.0 / 3, slow_middle_deg = 7.5, slow_half_deg = 22.5;

}  // namespace

bool form_repeats_with_firing(const WheelMotion& motion) {
    const double interval = cycle_deg / static_cast<double>(motion.tdc_deg.size());
    if (motion.repeat_deg > interval) return false;
    double low = 1e9;
    double high = 0;
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        low = std::min(low, motion.angle_deg[i] - motion.angle_deg[i - 1]);
        high = std::max(high, motion.angle_deg[i] - motion.angle_deg[i - 1]);
    }
    if (high - low < 1) return false;
    // Every gap must have a gap one interval on.
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        if (motion.angle_deg[i] - motion.angle_deg[i - 1] < high - 1e-6) continue;
        const double there = motion.angle_deg[i] + interval;
        if (there > motion.angle_deg.back()) break;
        const auto next = std::lower_bound(motion.angle_deg.begin(), motion.angle_deg.end(), there - 0.5);
        const auto k = static_cast<std::size_t>(next - motion.angle_deg.begin());
        if (std::abs(motion.angle_deg[k] - there) > 0.5 ||
            motion.angle_deg[k] - motion.angle_deg[k - 1] < high - 1e-6)
            return false;
    }
    return true;
}

std::vector<std::size_t> hidden_by_gap(const WheelMotion& motion, double phase_deg, double shortest_deg) {
    const Pitches pitches = pitches_of(motion);
    std::vector<std::size_t> hidden;
    for (std::size_t position = 0; position < motion.tdc_deg.size(); ++position) {
        const double slow_deg = phase_deg + motion.tdc_deg[position] - slow_middle_deg;
        for (std::size_t k = 0; k < pitches.deg.size(); ++k) {
            // Half a tooth to either side is blurred too: a tooth's speed is that of its middle.
            const double blurred_deg = pitches.deg[k] + pitches.usual_deg;
            if (!pitches.gap(k) || blurred_deg < wide_gap_share * shortest_deg) continue;
            const double middle_deg = motion.angle_deg[k] + pitches.deg[k] / 2;
            if (std::abs(std::remainder(middle_deg - slow_deg, cycle_deg)) >= blurred_deg / 2 + slow_half_deg)
                continue;
            hidden.push_back(position);
            break;
        }
    }
    return hidden;
}

Notice gap_hides(const std::vector<std::size_t>& positions) {
    std::string list;
    for (std::size_t i = 0; i < positions.size(); ++i)
        list += fmt::format("{}{}",
                            i == 0                     ? ""
                            : i + 1 < positions.size() ? ", "
                                                       : " and ",
                            positions[i] + 1);
    return {"gap-hides",
            fmt::format("The wheel's gap falls where position{} {} compress{}, so a loss there is uncertain "
                        "and nothing is "
                        "condemned on it. Record the starter current instead.",
                        positions.size() == 1 ? "" : "s", list, positions.size() == 1 ? "es" : "")};
}

Notice fits_twice() {
    return {
        "intervals-fit-twice",
        "The firing intervals fit the speed in two places about equally well, so which position is which is "
        "not sure, "
        "and the intervals hold both. Record a cam sensor too and name it with --sync, or give --sync-lead."};
}

Notice not_followed_notice() {
    return {"speed-not-followed",
            "The wheel's speed is not that of a crank with these cylinders and a starter alone, as when a "
            "dual-mass "
            "flywheel swings on its springs, the speed changes, or the layout is another: no cylinder is "
            "condemned on "
            "it. Record the starter current too."};
}

Notice phase_found(const CrankAngle& angle, const EngineLayout& layout) {
    return {"phase-from-compression",
            fmt::format(
                "TDC was found from the compressions themselves; position 1 is the first after {}{}. Give "
                "--sync-lead to name cylinders.",
                angle.sync_channel.empty() ? "the wheel's first tooth"
                                           : fmt::format("the mark of \"{}\"", angle.sync_channel),
                layout.fires_evenly() ? "" : " that the intervals can begin with")};
}

Notice tooth_form() {
    return {"tooth-form",
            "The wheel's teeth repeat with the compressions, so an error in their form cannot be told from "
            "compression "
            "common to all cylinders; differences between cylinders are not affected. Compare with the "
            "starter current if a "
            "verdict depends on it."};
}

}  // namespace evenstroke::contribution::wheel
