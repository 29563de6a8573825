// The usual estimate, kept beside the model's: the hump of each cylinder in the folded trace.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

/// Highest less lowest load in each cylinder's window (half-way to its neighbours), low-passed, relative to
/// the highest, percent. `mean` is a folded cycle, `offset_share` the place of position 0's TDC in it. Empty
/// where the highest hump is nought.
[[nodiscard]] std::vector<double> simple_contribution_pct(const Eigen::ArrayXd& mean,
                                                          const EngineLayout& layout, double offset_share);

}  // namespace evenstroke::contribution
