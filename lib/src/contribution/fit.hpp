// Damped least squares of the forward model on one averaged cycle.
#pragma once

#include <Eigen/Core>
#include <array>
#include <limits>
#include <optional>

#include "unknowns.hpp"

namespace evenstroke::contribution {

struct FitOptions {
    Grid grid = fine_grid;  ///< of the model
    /// Model error at each of 30 independent points of the cycle, as a share of the load's standard
    /// deviation.
    double noise_share = 0.01;
    bool noise_known =
        false;  ///< that error is certain; else it is a first belief and learnt from the misfit
    bool shared_only = false;  ///< the cylinders' own unknowns stay where they start
};

/// Where a fit stands: enough to go on from there.
struct FitPoint {
    Eigen::VectorXd unknowns;  ///< in standard deviations of their priors
    CrankState from;           ///< near the periodic state at node 0; without cylinders: none is known
    Supposed supposed;
    double cost = std::numeric_limits<double>::infinity();
};

/// A model that misses up to this share of the load's swing is usual.
inline constexpr double usual_misfit_share = 0.03;

struct FitResult {
    Eigen::VectorXd unknowns;    ///< in standard deviations of their priors
    Eigen::MatrixXd covariance;  ///< of the unknowns
    Eigen::ArrayXd peak;         ///< [cylinders] highest gauge pressure, ambient = 1
    Eigen::MatrixXd peak_slope;  ///< d peak / d unknowns
    Eigen::MatrixXd gain;        ///< d peak / d load at the nodes
    Eigen::ArrayXd node_share;   ///< share of the cycle's time at those nodes
    EngineModel model;
    ModelCycle cycle;
    double cost = 0;
    double misfit_rms = 0;       ///< in the unit of the load
    double slow_misfit_rms = 0;  ///< of it, what lasts for many degrees (slow_rms)
    double missed_rms = 0;       ///< all of that, or 0 where the data's own noise may make it
    double swing = 0;            ///< standard deviation of the load over the cycle
    double zero = 0;             ///< what the fit added to the load
    /// [cylinders] each peak over the highest: the least and the most that a fit which is not excluded gives
    /// it (widen() in rivals.hpp); empty: its own.
    Eigen::ArrayXd least_ratio, most_ratio;
    std::optional<std::size_t> maybe_shut;  ///< the position whose exhaust valve, shut, is no less likely
};

/// A fit, and the point where it stands.
struct FoundFit {
    FitResult fit;
    FitPoint point;
};

/// Each cylinder's peak over the highest.
[[nodiscard]] Eigen::ArrayXd peak_ratios(const FitResult& fit);

/// How much of the data's swing the model misses.
[[nodiscard]] double missed_share(const FitResult& fit);

/// Enough for a search that goes on to its end.
inline constexpr int steps_to_the_end = 40;

/// A cylinder that leaks so much that it holds no pressure, and one that has lost most of its charge: nearly
/// the same torque, with worse fits between, so that a search may end at the one where the other is true.
/// Below this share of the highest peak both are tried (starts_with_loss).
inline constexpr double much_lost_ratio = 0.75;
/// Of a hole, in the prior's standard deviations of a leak: at swept volume and choked flow the charge goes
/// 55 times a second, as through a plug's hole or past a valve that does not close.
inline constexpr double hole_unknown = 14;

/// `from` with one cylinder's own unknowns as those of a sound one, but for `kind`; its cycle is to be begun
/// anew.
[[nodiscard]] FitPoint with_loss(FitPoint from, Eigen::Index cylinder, Own kind, double unknown);

/// `from` with what `cylinder`, whose peak is `ratio` of the highest there, may have lost instead: all
/// through a hole, or so much of its charge that the peak is the same.
[[nodiscard]] std::array<FitPoint, 2> starts_with_loss(const FitPoint& from, Eigen::Index cylinder,
                                                       double ratio);

/// From `start`, at most `most_steps` steps.
[[nodiscard]] FitPoint improve(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                               FitPoint start, int most_steps);

/// Everything that the fit says where it stands.
[[nodiscard]] FitResult describe(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                                 const FitPoint& at);

/// What improve() to the end finds from `start`, on the coarse grid first, which takes half the time;
/// described.
[[nodiscard]] FoundFit fit_from(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                                FitPoint start);

}  // namespace evenstroke::contribution
