// How far a wheel's strengths may be off. Private.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "wheel_model.hpp"

namespace evenstroke::contribution::wheel {

struct Errors {
    Eigen::VectorXd standard_error;  ///< of each strength, 1/s²
    double chance = 0;               ///< mean of them without what comes back in every cycle
    double degrees = 1;
};

/// Scatter between cycles, residual with its likeness between neighbours, errors of the wheel that come back
/// every turn and so do not average out, and doubt about the starter: added as variances.
/// `by_event`: strength of every event by itself, NaN where it is not seen whole.
[[nodiscard]] Errors errors_of(const WheelMotion& motion, const LinearFit& fit,
                               const std::vector<Event>& events, const std::vector<double>& by_event);

}  // namespace evenstroke::contribution::wheel
