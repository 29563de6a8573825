// The forward model of starter, crank and gas, fitted to a wheel's speed as it is to a load. Private.
#pragma once

#include <optional>

#include "fit.hpp"
#include "interval.hpp"
#include "wheel_answer.hpp"

namespace evenstroke::contribution::wheel {

/// The mean cycle of a wheel's speed, rad/s, and where each cycle lies.
struct SpeedCycle {
    PhaseMap phases;  ///< 0, 1, 2 … at position 0's TDC as assumed
    CycleAverage average;
    Eigen::ArrayXd trust;  ///< [fold_places] the share of the cycles that show a tooth there, and no gap
};

/// The cycles of `motion` from `from_s` on that are alike, folded with position 0's TDC at `phase_deg`. Empty
/// where fewer than one and a half are, or a stretch of the cycle has no tooth.
[[nodiscard]] std::optional<SpeedCycle> speed_cycle(const WheelMotion& motion, double from_s,
                                                    double phase_deg);

/// What the forward model says.
struct SpeedFit {
    Answer answer;
    double cost = 0;          ///< lower is likelier: minus twice the logarithm, but for a constant
    double misfit_share = 0;  ///< missed_share()
};

/// Fits `cycle`; position 0's TDC lies where it was folded, `phase_deg`, known within `phase_sd_deg`.
/// `thorough`: where the search ends badly it is made again in other ways.
[[nodiscard]] SpeedFit fit_speed(const WheelMotion& motion, const EngineLayout& layout,
                                 const SpeedCycle& cycle, double phase_deg, double phase_sd_deg,
                                 bool thorough);

}  // namespace evenstroke::contribution::wheel
