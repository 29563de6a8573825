#include "drive_and_loss.hpp"

#include <algorithm>
#include <cmath>

#include "interval.hpp"
#include "signal/statistics.hpp"

namespace evenstroke {

const char* name(LossKind kind) {
    return kind == LossKind::leak ? "leak" : "charge";
}

namespace contribution {

namespace {

/// Step of the derivatives, in standard deviations of the priors.
constexpr double difference = 1e-3;

// What the model lacks, as a relative standard deviation.
/// Resistance that builds up in the battery and in the warming windings, between inrush and cranking.
constexpr double stall_model_sd = 0.12;
/// The same resistance drives less current while cranking than the battery's voltage at rest promises.
constexpr double torque_model_sd = 0.12;
/// Flux that grows with current by more than this (see Drive::saturation) is a series-wound starter's. How it
/// saturates differs from starter to starter, so the cranking tells neither the standstill nor the torque:
/// simulated, stall came out 30 % too low and torque 20 %, scattered as much again.
constexpr double series_saturation = 0.2;
/// Friction of rings that rises with gas pressure, springs and pumps: the model has one friction for all.
constexpr double friction_model_sd = 0.2;

/// A loss is called by its kind when the other part is this much smaller …
constexpr double least_difference_share = 0.5;
/// … by so many standard deviations.
constexpr double least_difference_sds = 2;
/// The gauge peak of a hole, ambient = 1, at most.
constexpr double hole_peak_ratio = 0.5;
/// Of a cylinder that makes hardly any torque a hole and a want of charge look alike: below this percentage
/// of the highest nothing is called want of charge (simulation: 27 of 35 holes that were named had been).
constexpr double least_charge_pct = 30;
/// Losses below this share of the peak have no kind.
constexpr double least_loss = 0.05;

/// A loss is more than chance when the whole interval lies below this: make-to-make differences of sound
/// cylinders reach 5 points (common practice, no published source).
constexpr double certain_loss_pct = 95;

double stretch(const FitResult& fit) {
    return std::max(1.0, missed_share(fit) / usual_misfit_share);
}

/// Standard deviation of `quantity` of the unknowns, by central differences.
template <class Quantity>
double sd_of(const FitResult& fit, const Quantity& quantity) {
    Eigen::VectorXd slope(fit.unknowns.size());
    for (Eigen::Index k = 0; k < slope.size(); ++k) {
        Eigen::VectorXd up = fit.unknowns, down = fit.unknowns;
        up[k] += difference;
        down[k] -= difference;
        slope[k] = (quantity(up) - quantity(down)) / (2 * difference);
    }
    return std::sqrt(std::max(0.0, slope.dot(fit.covariance * slope))) * stretch(fit);
}

/// A positive quantity, whose error is a factor.
template <class Quantity>
Figure figure_of(const FitResult& fit, double model_sd, const Quantity& quantity) {
    const double value = quantity(fit.unknowns);
    const double open = sd_of(fit, [&](const Eigen::VectorXd& z) { return std::log(quantity(z)); });
    const double factor = std::exp(signal::normal_95 * std::hypot(open, model_sd));
    return {.value = value, .low = value / factor, .high = value * factor};
}

/// ln of the peak's dependence on geometry: volume when the intake closes over volume at TDC.
double log_compression(double compression_ratio) {
    return polytropic_exponent * std::log(sealed_volume_ratio(compression_ratio));
}

struct Parts {
    double leak, charge;
};

Parts parts_of(const FitResult& fit, const UnknownsMap& map, const Eigen::VectorXd& z, std::size_t cylinder) {
    Eigen::VectorXd sound = z;
    const auto own = static_cast<Eigen::Index>(shared_unknowns) +
                     unknowns_per_cylinder * static_cast<Eigen::Index>(cylinder);
    sound.segment(own, unknowns_per_cylinder).setZero();
    const CylinderGas is = map.model(z).cylinders[cylinder];
    const CylinderGas was = map.model(sound).cylinders[cylinder];
    const auto node = static_cast<std::size_t>(fit.cycle.peak_node[cylinder]);
    // What the leak takes off ln p is nearly in proportion to it; but a hole lets hardly anything rise above
    // ambient pressure.
    const double by_leak = std::log(fit.cycle.kept[node * fit.cycle.peak_node.size() + cylinder]) /
                           fit.model.cylinders[cylinder].leak_per_s;
    const double above_ambient = std::log(is.charge_ratio) + log_compression(is.compression_ratio);
    const double peak_ratio = fit.cycle.peak_ratio[cylinder];
    return {.leak = peak_ratio < hole_peak_ratio ? above_ambient - std::log1p(peak_ratio)
                                                 : -by_leak * (is.leak_per_s - was.leak_per_s),
            .charge = std::log(was.charge_ratio / is.charge_ratio) + log_compression(was.compression_ratio) -
                      log_compression(is.compression_ratio)};
}

std::optional<LossKind> told_apart(std::optional<LossKind> kind, double contribution_pct) {
    return kind == LossKind::charge && contribution_pct < least_charge_pct ? std::nullopt : kind;
}

}  // namespace

std::vector<LossShares> loss_shares(const FitResult& fit, const FitData& data, const EngineLayout& layout) {
    const UnknownsMap map(data, layout);
    std::vector<LossShares> all;
    for (std::size_t c = 0; c < fit.model.cylinders.size(); ++c) {
        const Parts parts = parts_of(fit, map, fit.unknowns, c);
        const double sd = sd_of(fit, [&](const Eigen::VectorXd& z) {
            const Parts at = parts_of(fit, map, z, c);
            return at.leak - at.charge;
        });
        all.push_back({.leak = parts.leak, .charge = parts.charge, .difference_sd = sd});
    }
    return all;
}

std::optional<LossKind> loss_kind(const LossShares& shares) {
    const double gap = shares.leak - shares.charge;
    const double larger = std::max(shares.leak, shares.charge);
    if (larger < least_loss || std::abs(gap) < least_difference_share * larger ||
        std::abs(gap) < least_difference_sds * shares.difference_sd)
        return std::nullopt;
    return gap > 0 ? LossKind::leak : LossKind::charge;
}

std::optional<DriveRatios> drive_ratios(const FitResult& fit, const FitData& data,
                                        const EngineLayout& layout) {
    if (fit.model.saturation > series_saturation) return std::nullopt;
    const UnknownsMap map(data, layout);
    // Torque is counted in amperes: times slope over stall it is N·m for each volt that drives the loop.
    const auto per_volt = [&](const EngineModel& m) { return m.slope_per_rad_s / m.stall; };
    return DriveRatios{.stall_a = figure_of(fit, stall_model_sd,
                                            [&](const Eigen::VectorXd& z) { return map.model(z).stall; }),
                       .torque_nm_per_v = figure_of(fit, torque_model_sd,
                                                    [&](const Eigen::VectorXd& z) {
                                                        const EngineModel m = map.model(z);
                                                        return map.mean_load * per_volt(m);
                                                    }),
                       .friction_nm_per_v = figure_of(fit, friction_model_sd, [&](const Eigen::VectorXd& z) {
                           const EngineModel m = map.model(z);
                           return m.friction * per_volt(m);
                       })};
}

void add_quantities(Contribution& out, const FitResult& fit, const FitData& data, const EngineLayout& layout,
                    bool in_amperes) {
    if (missed_share(fit) > hopeless_misfit_share) return;
    if (in_amperes) out.drive = drive_ratios(fit, data, layout);
    const auto shares = loss_shares(fit, data, layout);
    for (std::size_t c = 0; c < out.cylinders.size() && c < shares.size(); ++c)
        if (out.cylinders[c].high_pct && *out.cylinders[c].high_pct < certain_loss_pct)
            out.cylinders[c].loss_kind = told_apart(loss_kind(shares[c]), *out.cylinders[c].contribution_pct);
}

}  // namespace contribution
}  // namespace evenstroke
