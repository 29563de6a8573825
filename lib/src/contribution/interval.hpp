// How far a contribution may be off: scatter between cycles, what the fit leaves open, and what the model
// lacks.
#pragma once

#include <Eigen/Core>

#include "cycle_average.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// Beyond this missed_share() the model follows another engine: an estimate stands,
/// but nothing is sure.
inline constexpr double hopeless_misfit_share = 0.07;

/// A cylinder found above this has not lost so much that it could be condemned.
inline constexpr double doubtful_below_pct = 80;

struct Contributions {
    Eigen::ArrayXd pct;  ///< [cylinders]
    Eigen::ArrayXd low_pct;
    Eigen::ArrayXd high_pct;
    Eigen::ArrayXXd by_cycle_pct;  ///< cycles x cylinders
};

/// Nothing is sure any more.
inline void open_all(Eigen::ArrayXd& low_pct, Eigen::ArrayXd& high_pct) {
    low_pct.setZero();
    high_pct.setConstant(100);
}

/// Intervals that hold `other`'s too.
inline void hold_both(Eigen::ArrayXd& low_pct, Eigen::ArrayXd& high_pct, const Eigen::ArrayXd& other_low_pct,
                      const Eigen::ArrayXd& other_high_pct) {
    low_pct = low_pct.min(other_low_pct).eval();
    high_pct = high_pct.max(other_high_pct).eval();
}

/// Contributions with 95 % intervals out of a fit of what was `seen`.
[[nodiscard]] Contributions contributions_of(const FitResult& fit, const CycleAverage& average,
                                             bool even_firing, Seen seen = Seen::load);

}  // namespace evenstroke::contribution
