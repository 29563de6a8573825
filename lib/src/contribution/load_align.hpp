// Where TDC may be in the folded cycle when no reference says so.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

/// Candidates for position 0's firing TDC, degrees after the folded cycle's start, best first: where the gas
/// torque of a healthy engine fits best to the load, lead-compensated for an inertia of the usual size. An
/// even engine has one (within half an interval of 0); an odd one as many as its pattern leaves open, at most
/// three.
[[nodiscard]] std::vector<double> tdc_candidates_deg(const Eigen::ArrayXd& load, double period_s,
                                                     const EngineLayout& layout);

}  // namespace evenstroke::contribution
