// The fit's unknowns, each counted in standard deviations of what is known about engines beforehand.
//
// The priors are ranges of common practice, wide on purpose, not values fitted to any set of recordings.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "crank_tangent.hpp"
#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

/// The unknowns that all cylinders share, in the order of the vector.
enum Shared {
    at_stall,
    at_time_constant,
    at_starter_share,
    at_drag,
    at_overrun,
    at_viscous,
    at_lag,
    at_ratio,
    at_leak,
    at_saturation,
    at_clutch,
    at_sprung_share,
    at_spring,
    at_intake,
    at_gas_scale,
    at_valves,
    at_friction,
    at_slope,
    at_offset,
    at_zero,
    shared_unknowns
};
/// Then, for each cylinder: charge, leak, compression ratio.
enum Own { own_charge, own_leak, own_ratio, unknowns_per_cylinder };

/// The unknown `own_charge` of a cylinder that traps this share of what the others do.
[[nodiscard]] double charge_unknown(double share);

/// What the fit is given besides the engine's layout.
struct FitData {
    /// Mean cycle of what the trace shows, at evenly spaced times of the cycle from position 0's TDC.
    Eigen::ArrayXd seen;
    Eigen::ArrayXd
        trust;  ///< 0 to 1, at the same times: how far `seen` is to be followed there; empty: all along
    Seen seen_is = Seen::load;  ///< in the trace's unit; speed in rad/s
    double period_s = 0;
    double slow_noise = 0;         ///< of the slow part of `seen` (slow_rms), what no engine need make
    std::optional<double> inrush;  ///< highest load at engagement, in the unit of the load
    bool free_zero = false;        ///< the load's zero is uncertain (battery voltage recovers slowly)
    double offset_sd_deg = 0.5;    ///< of true TDC about where it is supposed
};

/// What a fit takes for granted of the engine.
struct Supposed {
    double offset_deg = 0;                    ///< true TDC minus that of position 0 in the data
    std::optional<std::size_t> exhaust_shut;  ///< the cylinder whose exhaust valve never opens
    bool dual_mass = false;                   ///< the flywheel's
};

/// Turns unknowns into a model.
struct UnknownsMap {
    const FitData* data = nullptr;
    Supposed supposed;
    std::vector<double> firing_deg;
    double mean_load = 0;  ///< 1 where no load is seen: torque is then counted in the starter's mean
    double swing = 0;      ///< standard deviation of the data over the cycle
    double mean_speed_rad_s = 0;

    UnknownsMap(const FitData& data, const EngineLayout& layout, const Supposed& supposed = {});
    [[nodiscard]] Eigen::Index size() const;
    [[nodiscard]] EngineModel model(const Eigen::VectorXd& z) const;
    /// What to add to the data so that its zero is the model's.
    [[nodiscard]] double lift(const Eigen::VectorXd& z) const;
    [[nodiscard]] double lift_sd() const;
    /// Derivatives of the tangent's columns: columns x unknowns.
    [[nodiscard]] Eigen::MatrixXd chain(const Eigen::VectorXd& z) const;
    /// Minus twice the log of the prior: square for the shared; for the cylinders' own unknowns long-tailed
    /// on the side of a fault, for a cylinder is sound or has a fault of any size.
    [[nodiscard]] static double prior_cost(const Eigen::VectorXd& z);
    /// Weights that make prior_cost a sum of weighted squares near z.
    [[nodiscard]] static Eigen::VectorXd prior_weight(const Eigen::VectorXd& z);
};

}  // namespace evenstroke::contribution
