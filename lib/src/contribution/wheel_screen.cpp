#include "wheel_screen.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "values/cranking_limits.hpp"
#include "wheel_linear.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// Fewer teeth in a firing interval than this cannot carry a compression's height, place and baseline.
constexpr int least_teeth_per_interval = 4;
/// Masses alone, and errors of the teeth, swing the speed by some per cent; compressions by more than this.
constexpr double least_ripple_share = 0.05;
/// … and by this much without any compression hardly ever.
constexpr double much_ripple_share = 0.15;

/// Teeth in the stretch of `interval_deg` that has the fewest: a gap is where a compression goes unseen.
int fewest_teeth(const CrankAngle& angle, double interval_deg) {
    std::size_t fewest = angle.angle_deg.size();
    std::size_t past = 0;
    for (std::size_t i = 0; i < angle.angle_deg.size(); ++i) {
        // Just after tooth i, which is not counted: the emptiest stretches begin there.
        const double end_deg = angle.angle_deg[i] + interval_deg + tooth_rounding_deg;
        if (end_deg > angle.angle_deg.back()) break;
        while (past < angle.angle_deg.size() && angle.angle_deg[past] <= end_deg) ++past;
        fewest = std::min(fewest, past - i - 1);
    }
    return static_cast<int>(fewest);
}

}  // namespace

std::optional<std::string> too_little(const CrankAngle& angle, const EngineLayout& layout) {
    if (angle.no_reference) return angle.no_reference;
    if (angle.time_s.size() < 4) return "the wheel shows too few teeth";
    if (angle.speed_rpm > fastest_cranking_rpm)
        return fmt::format(
            "the crank turns at {:.0f} rpm, faster than a starter turns it: the engine runs or "
            "is driven. Crank with fuel and ignition disabled, or narrow with --from and --to",
            angle.speed_rpm);
    const double interval = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    if (const int teeth = fewest_teeth(angle, interval); teeth < least_teeth_per_interval)
        return fmt::format(
            "the wheel is too coarse: {} {} between two compressions, at least {} are needed to tell one "
            "cylinder from "
            "another; the speed is still valid. Record the starter current instead",
            teeth, teeth == 1 ? "tooth" : "teeth", least_teeth_per_interval);
    return {};
}

std::string nothing_fits(const WheelMotion& motion, const EngineLayout& layout, bool told) {
    if (told) {
        const std::vector<LinearFit> places = fit_motion(motion, {}, 1);
        if (!places.empty() && strong(places.front()))
            return fmt::format(
                "the engine compresses, but {:.0f} degrees away from the TDC that was given: check "
                "--sync-lead, the cylinder that it counts to, --cylinders and --wheel, or omit --sync-lead",
                std::abs(std::remainder(places.front().phase_deg, motion.repeat_deg)));
    }
    const double mean = motion.rad_per_s.mean();
    const double swing = std::sqrt((motion.rad_per_s.array() - mean).square().mean());
    if (swing > least_ripple_share * mean)
        return fmt::format(
            "the speed swings by {:.0f} %, but not as {} compressions per cycle would make it: check "
            "--cylinders, "
            "--intervals and --wheel{}",
            100 * swing / mean, layout.cylinders(),
            swing < much_ripple_share * mean ? ". If they are right, nothing compresses: are the plugs out?"
                                             : "");
    return "nothing compresses: the speed carries no ripple that compression would make. Are the plugs "
           "out, or does the wheel turn without the engine?";
}

}  // namespace evenstroke::contribution::wheel
