// Damped least squares of the forward model on one averaged cycle.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "unknowns.hpp"

namespace evenstroke::contribution {

struct FitOptions {
    int most_steps = 40;
    /// Model error at each of 30 independent points of the cycle, as a share of the load's standard
    /// deviation.
    double noise_share = 0.01;
    bool noise_known =
        false;  ///< that error is certain; else it is a first belief and learnt from the misfit
    bool shared_only = false;  ///< the cylinders' own unknowns stay where they start
};

/// A slow misfit up to this share of the load's swing is usual.
inline constexpr double usual_misfit_share = 0.03;

struct FitResult {
    Eigen::VectorXd unknowns;    ///< in standard deviations of their priors
    Eigen::MatrixXd covariance;  ///< of the unknowns
    Eigen::ArrayXd peak;         ///< [cylinders] highest gauge pressure, ambient = 1
    Eigen::MatrixXd peak_slope;  ///< d peak / d unknowns
    Eigen::MatrixXd gain;        ///< d peak / d load at the nodes 0 … steps_per_cycle-1
    Eigen::ArrayXd node_share;   ///< share of the cycle's time at those nodes
    EngineModel model;
    ModelCycle cycle;
    double cost = 0;
    double misfit_rms = 0;       ///< in the unit of the load
    double slow_misfit_rms = 0;  ///< of it, what lasts for many degrees
    double swing = 0;            ///< standard deviation of the load over the cycle
    double zero = 0;             ///< what the fit added to the load
    int steps = 0;
};

/// From `start` (unknowns in prior standard deviations), at most options.most_steps steps.
[[nodiscard]] FitResult fit_cycle(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                                  const Eigen::VectorXd& start);

/// Several starts (inertia, share of the starter, constant or saturating flux) at every candidate of TDC; a
/// few steps each, then the best to the end. `offsets_deg` is not empty.
[[nodiscard]] FitResult fit_best(FitData data, const EngineLayout& layout,
                                 const std::vector<double>& offsets_deg);

}  // namespace evenstroke::contribution
