// Damped least squares of the forward model on one averaged cycle.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "crank_model.hpp"
#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

/// What the model is fitted to.
struct FitData {
    Eigen::ArrayXd load;  ///< mean cycle at evenly spaced times of the cycle, from position 0's TDC
    double period_s = 0;
    std::optional<double> inrush;  ///< highest load at engagement, in the unit of `load`
    bool free_zero = false;        ///< the load's zero is uncertain (battery voltage recovers slowly)
    double offset_deg = 0;         ///< start value of true TDC minus assumed TDC
    double offset_sd_deg = 0.5;
    bool speed = false;  ///< `load` holds crank speed, rad/s
};

struct FitOptions {
    int most_steps = 30;
    double noise_share =
        0.01;  ///< model error at one of 30 independent points, of the load's standard deviation
};

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
    double misfit_rms = 0;  ///< in the unit of the load
    double offset_deg = 0;
    double zero = 0;
    double swing = 0;  ///< standard deviation of the load over the cycle
    double damping = 1e-2;
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
