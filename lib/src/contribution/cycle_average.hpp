// The settled cranking folded on its cycle: every usable sample by its share of the cycle's time.
//
// Within a cycle the place of a sample is the share of that cycle's time, not an angle: this needs no model
// of how the speed varies, and the forward model says at which share of the time it passes each crank angle.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/angle.hpp"

namespace evenstroke::contribution {

/// Places in the folded cycle; 720 samples resolve half a degree at mean speed.
inline constexpr int fold_places = 720;

/// Cycle count against time: phase 0, 1, 2 … at position 0's (assumed) firing TDC.
struct PhaseMap {
    std::vector<double> knots_s;  ///< times of whole phases, ascending, at least two

    /// Linear between knots, extrapolated at the mean of the nearest period beyond them.
    [[nodiscard]] double phase(double time_s) const;
    [[nodiscard]] double time_s(double phase) const;
};

/// Whole cycles out of a crank angle, half a cycle beyond its knots; empty when fewer than two remain.
[[nodiscard]] std::optional<PhaseMap> phase_map(const CrankAngle& angle);

/// Samples of load against time, ascending; `usable` is false in gaps and where the trace is clipped.
struct LoadSamples {
    std::vector<double> time_s;
    std::vector<double> load;
    std::vector<bool> usable;
};

/// The folded cycle.
struct CycleAverage {
    Eigen::ArrayXd mean;     ///< [fold_places]
    Eigen::ArrayXXd cycles;  ///< whole cycles x places, from `first_phase` on; drift removed, its mean kept
    double first_phase = 0;  ///< of the first cycle's start
    double span_cycles = 0;  ///< cycles that the samples cover, with the part of one at the end
    double period_s = 0;
    std::vector<double> levels;     ///< slow mean of the load over each whole cycle
    std::vector<double> periods_s;  ///< of whole cycles inside the span
    double widest_gap = 0;  ///< widest stretch of the cycle that no usable sample fell in, share of a cycle
};

/// Folds the samples in [from_s, to_s]. Slow drift (battery, warming) is taken out with a moving mean of
/// exactly one period, so that cycles may be covered unequally often.
[[nodiscard]] CycleAverage fold(const LoadSamples& samples, const PhaseMap& phases, double from_s,
                                double to_s);

/// Root mean square of what lasts for many degrees, as the engine's model would, and ripple and noise do not:
/// of the means over so much to either side. Evenly spaced around the cycle.
inline constexpr double slow_reach_deg = 10;
[[nodiscard]] double slow_rms(const Eigen::ArrayXd& around_cycle);

/// Linear interpolation on a folded cycle; `share` is wrapped. NaN where it is not finite.
[[nodiscard]] double at_share(const Eigen::ArrayXd& cycle, double share);

}  // namespace evenstroke::contribution
