// Crank angle within a cycle, as the fitted model turns it: share of the cycle's time against degrees.
#pragma once

#include <Eigen/Core>

namespace evenstroke::contribution {

struct CycleAngle {
    Eigen::ArrayXd node_share;  ///< share of the cycle's time at evenly spaced angles from 0

    /// Share of the cycle's time at which the crank passes `degrees`; whole cycles are kept (720 gives 1).
    [[nodiscard]] double share(double degrees) const;
    /// Degrees passed at `phase` cycles (1 gives 720).
    [[nodiscard]] double degrees(double phase) const;
};

}  // namespace evenstroke::contribution
