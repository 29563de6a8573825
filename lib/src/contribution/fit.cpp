#include "fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "cycle_average.hpp"
#include "signal/linear.hpp"

namespace evenstroke::contribution {

namespace {

/// Neighbouring points of a cycle err alike; so many stand for themselves.
constexpr double independent_points = 30;
/// What is believed of the model's error before it is seen counts as so many of those points.
constexpr double believed_points = 10;
/// Weight of the period: 0.1 % off costs one.
constexpr double period_weight = 1000;
/// Of data that are not to be followed: a weight that no residual of them outweighs, yet one to divide by.
constexpr double least_trust = 1e-6;
constexpr double first_damping = 3.0, least_damping = 1e-4, most_damping = 1e6;
/// Longest step of one unknown, in its prior's standard deviations.
constexpr double longest_move = 2;
/// A cycle is periodic when its speed, and what the leaks left of each charge, end within this share of where
/// they began; so many cycles are tried.
constexpr double periodic_share = 3e-5;
constexpr int most_cycles = 14;
/// A shift of the motion by more than this share of the speed is no longer a matter of derivatives.
constexpr double largest_shift = 0.2;
/// No cylinder traps less than this share of what its fellows do and turns all the same.
constexpr double least_charge = 0.05;
/// A step that gains less than this (in chi square) ends the fit.
constexpr double least_gain = 0.02, least_gain_share = 3e-4;

struct Evaluation {
    EngineModel model;
    std::vector<GasTable> tables;
    ModelCycle cycle;
    CrankState state;
    Eigen::VectorXd residual;
    Eigen::VectorXd weight;  ///< of each node's residual
    double misfit = 0;       ///< sum of squared residuals, in the error that is believed beforehand
    double cost = 0;
};

/// `by_column` [n x columns] by the chain rule: n x unknowns. An unknown moves few columns, and a full
/// product would spend nearly all of its time on zeros.
Eigen::MatrixXd chained(const Eigen::MatrixXd& by_column, const Eigen::MatrixXd& chain) {
    Eigen::MatrixXd by_unknown(by_column.rows(), chain.cols());
    for (Eigen::Index unknown = 0; unknown < chain.cols(); ++unknown) {
        bool moves = false;
        for (Eigen::Index column = 0; column < chain.rows(); ++column) {
            const double by = chain(column, unknown);
            if (by == 0) continue;
            if (moves)
                by_unknown.col(unknown) += by * by_column.col(column);
            else
                by_unknown.col(unknown) = by * by_column.col(column);
            moves = true;
        }
        if (!moves) by_unknown.col(unknown).setZero();
    }
    return by_unknown;
}

class Fit {
  public:
    Fit(const FitData& data, const EngineLayout& layout, const Supposed& supposed, const FitOptions& options)
        : data_(data),
          map_(data, layout, supposed),
          grid_(options.grid),
          point_weight_(std::sqrt(independent_points / grid_.steps) / (options.noise_share * map_.swing)),
          noise_known_(options.noise_known),
          shared_only_(options.shared_only) {}

    [[nodiscard]] FitPoint run(FitPoint point, int most_steps) {
        Eigen::VectorXd& z = point.unknowns;
        Evaluation now = evaluation_at(point);
        double damping = first_damping;
        for (int step = 0; step < most_steps; ++step) {
            linearise(z, now);
            const double before = now.cost;
            if (!improve(z, now, damping)) break;
            if (before - now.cost < least_gain + least_gain_share * now.cost) break;
        }
        point.from = now.state;
        point.cost = now.cost;
        return point;
    }

    [[nodiscard]] FitResult describe(const FitPoint& point) {
        Evaluation now = evaluation_at(point);
        linearise(point.unknowns, now);
        return result(point.unknowns, now);
    }

  private:
    [[nodiscard]] Evaluation evaluation_at(const FitPoint& point) const {
        Evaluation e;
        e.state = !point.from.kept.empty() ? point.from : rest_state(map_.model(point.unknowns));
        evaluate(point.unknowns, e);
        return e;
    }

    /// What the trace would show of a cycle, at its nodes.
    [[nodiscard]] const std::vector<double>& seen(const ModelCycle& cycle) const {
        return data_.seen_is == Seen::speed ? cycle.speed_rad_s : cycle.load;
    }

    /// How far the data are to be followed at a share of the cycle's time.
    [[nodiscard]] double trust(double share) const {
        return data_.trust.size() == 0 ? 1.0 : std::max(least_trust, at_share(data_.trust, share));
    }

    void evaluate(const Eigen::VectorXd& z, Evaluation& e) const {
        e.model = map_.model(z);
        e.tables.resize(e.model.cylinders.size());
        for (std::size_t c = 0; c < e.tables.size(); ++c)
            tabulate(e.model.cylinders[c], grid_, e.model.valve_share > 0, e.tables[c]);
        settle(e);
        const auto& time = e.cycle.time_s;
        const double total = time.back();
        const double lift = map_.lift(z);
        e.residual.resize(grid_.steps + 1);
        e.weight.resize(grid_.steps);
        for (int k = 0; k < grid_.steps; ++k) {
            const auto at = static_cast<std::size_t>(k);
            const double before = k > 0 ? time[at - 1] : time[time.size() - 2] - total;
            const double width = 0.5 * (time[at + 1] - before) / total * grid_.steps;
            e.weight[k] = point_weight_ * std::sqrt(std::max(width, 0.0) * trust(time[at] / total));
            e.residual[k] = (seen(e.cycle)[at] - at_share(data_.seen, time[at] / total) - lift) * e.weight[k];
        }
        e.residual[grid_.steps] = (total / data_.period_s - 1) * period_weight;
        e.misfit = e.residual.head(grid_.steps).squaredNorm();
        e.cost = misfit_cost(e.misfit) + std::pow(e.residual[grid_.steps], 2) + UnknownsMap::prior_cost(z);
        if (!std::isfinite(e.cost)) e.cost = std::numeric_limits<double>::infinity();
    }

    /// How much the model errs is not known beforehand but learnt from the misfit itself (its scale is
    /// integrated out, as in Student's t): an engine that the model describes badly must not be bent to the
    /// last detail by inventing faults.
    [[nodiscard]] double misfit_cost(double misfit) const {
        if (noise_known_) return misfit;
        return (independent_points + believed_points) * std::log1p(misfit / believed_points);
    }
    /// d misfit_cost / d misfit.
    [[nodiscard]] double misfit_weight(double misfit) const {
        return noise_known_ ? 1.0 : (independent_points + believed_points) / (believed_points + misfit);
    }

    /// Moves `motion` by `by` and says so, unless that leads too far to be believed.
    static bool moved(StepState<double>& motion, const Eigen::VectorXd& by) {
        if (!(std::abs(by[in_crank]) < largest_shift * motion.crank_rad_s)) return false;
        motion.crank_rad_s += by[in_crank];
        motion.starter_rad_s += by[in_starter];
        motion.twist_rad = std::max(0.0, motion.twist_rad + by[in_twist]);
        motion.load += by[in_load];
        if (by.size() > in_sprung) {
            motion.sprung_rad_s += by[in_sprung];
            motion.wind_rad += by[in_wind];
        }
        return true;
    }

    /// What a cycle changed of the motion.
    static Eigen::VectorXd changed(const StepState<double>& from, const StepState<double>& to, bool sprung) {
        Eigen::VectorXd by(sprung ? in_wind + 1 : in_load + 1);
        by[in_crank] = to.crank_rad_s - from.crank_rad_s;
        by[in_starter] = to.starter_rad_s - from.starter_rad_s;
        by[in_twist] = to.twist_rad - from.twist_rad;
        by[in_load] = to.load - from.load;
        if (sprung) {
            by[in_sprung] = to.sprung_rad_s - from.sprung_rad_s;
            by[in_wind] = to.wind_rad - from.wind_rad;
        }
        return by;
    }

    /// Repeats the cycle until the speed and the charges end it as they began it: by Newton's method with the
    /// derivatives of the last linearisation, as long as that gains. Else by waiting: a slow engine settles
    /// over many cycles, each change a constant share of the one before, and that geometric series is summed
    /// at once.
    void settle(Evaluation& e) const {
        const auto alike = [](double a, double b) { return std::abs(a - b) < periodic_share; };
        double change_before = 0;
        bool newton = settling_.has_value();
        for (int k = 0; k < most_cycles; ++k) {
            const StepState<double> start = e.state.motion;
            const std::vector<double> kept = e.state.kept;
            run_cycle(e.model, e.tables, e.state, e.cycle);
            const StepState<double>& end = e.state.motion;
            const double change = end.crank_rad_s - start.crank_rad_s;
            if (std::abs(change) < periodic_share * start.crank_rad_s &&
                std::equal(kept.begin(), kept.end(), e.state.kept.begin(), alike))
                return;
            const double ratio = change_before != 0 ? change / change_before : 0;
            change_before = change;
            if (newton && std::abs(ratio) < 0.5) {
                StepState<double> next = start;
                newton = moved(next, *settling_ * changed(start, end, has_dual_mass(e.model)));
                if (newton) e.state.motion = next;
                continue;
            }
            if (newton) {
                newton = false;
                change_before = 0;
                continue;
            }
            if (ratio <= -0.8 || ratio >= 0.95 || ratio == 0) continue;
            const double gain = change * ratio / (1 - ratio);
            const double limit = e.state.motion.crank_rad_s + gain;
            if (limit < start.crank_rad_s / 3 || limit > 3 * start.crank_rad_s) continue;
            e.state.motion.crank_rad_s = limit;
            e.state.motion.starter_rad_s += gain;
            e.state.motion.sprung_rad_s += gain;
            change_before = 0;
        }
    }

    void linearise(const Eigen::VectorXd& z, Evaluation& now) {
        tangent_of(now.model, now.tables, now.cycle, data_.seen_is, tangent_);
        const Eigen::MatrixXd chain = map_.chain(z);
        const double total = now.cycle.time_s.back();
        const Eigen::Index last = grid_.steps;
        const Eigen::Index columns = chain.rows();
        auto by_column = tangent_.seen.topLeftCorner(columns, last);
        const auto time = tangent_.time.topRows(columns);
        for (Eigen::Index k = 0; k < last; ++k) {
            // The data are looked up at a share of the time, which moves too.
            const double at = now.cycle.time_s[static_cast<std::size_t>(k)] / total;
            constexpr double reach = 1.0 / fold_places;
            const double slope =
                (at_share(data_.seen, at + reach) - at_share(data_.seen, at - reach)) / (2 * reach);
            by_column.col(k) -= slope / total * (time.col(k) - at * time.col(last));
        }
        jacobian_.resize(last + 1, map_.size());
        jacobian_.topRows(last) = now.weight.asDiagonal() * chained(by_column.transpose(), chain);
        jacobian_.col(at_zero).head(last) -= map_.lift_sd() * now.weight;
        jacobian_.row(last) = period_weight / data_.period_s * chained(time.col(last).transpose(), chain);
        peak_slope_ = chained(tangent_.peak.matrix(), chain);
        const double weight_of_misfit = misfit_weight(now.misfit);
        const auto misfit_rows = jacobian_.topRows(last);
        const auto period_row = jacobian_.row(last);
        normal_.setZero(map_.size(), map_.size());
        normal_.selfadjointView<Eigen::Lower>().rankUpdate(misfit_rows.transpose(), weight_of_misfit);
        normal_.selfadjointView<Eigen::Lower>().rankUpdate(period_row.transpose());
        normal_.triangularView<Eigen::StrictlyUpper>() = normal_.transpose();
        const Eigen::VectorXd weight = UnknownsMap::prior_weight(z);
        normal_.diagonal() += weight;
        gradient_ = weight_of_misfit * (misfit_rows.transpose() * now.residual.head(last)) +
                    period_row.transpose() * now.residual[last] + weight.cwiseProduct(z);
        if (shared_only_) hold_own();
        settling_ = tangent_.settling;
        motion_slope_ = chained(tangent_.motion, chain);
    }

    /// Takes the cylinders' own unknowns out of the step.
    void hold_own() {
        const Eigen::Index own = map_.size() - shared_unknowns;
        normal_.rightCols(own).setZero();
        normal_.bottomRows(own).setZero();
        normal_.diagonal().tail(own).setOnes();
        gradient_.tail(own).setZero();
    }

    bool improve(Eigen::VectorXd& z, Evaluation& now, double& damping) const {
        Evaluation trial;
        while (damping < most_damping) {
            Eigen::MatrixXd damped = normal_;
            damped.diagonal().array() += damping;
            Eigen::VectorXd move = signal::solve_symmetric(damped, -gradient_);
            // A cycle may be so unstable that its derivatives grow beyond all numbers.
            if (!move.allFinite()) return false;
            const double longest = move.cwiseAbs().maxCoeff();
            if (longest > longest_move) move *= longest_move / longest;
            trial.state = now.state;
            moved(trial.state.motion, motion_slope_ * move);
            evaluate(z + move, trial);
            if (trial.cost < now.cost) {
                z += move;
                std::swap(now, trial);
                damping = std::max(least_damping, damping / 5);
                return true;
            }
            if (longest < 1e-3) return false;
            damping = std::max(1e-2, damping * 5);
        }
        return false;
    }

    [[nodiscard]] double slow_misfit(const Evaluation& e) const {
        Eigen::ArrayXd off = e.residual.head(grid_.steps).array() / e.weight.array();
        for (Eigen::Index k = 0; k < grid_.steps; ++k)
            off[k] *= trust(e.cycle.time_s[static_cast<std::size_t>(k)] / e.cycle.time_s.back());
        return slow_rms(off);
    }

    [[nodiscard]] FitResult result(const Eigen::VectorXd& z, const Evaluation& now) const {
        FitResult out;
        out.unknowns = z;
        out.covariance = signal::inverse_symmetric(normal_);
        out.peak = Eigen::Map<const Eigen::ArrayXd>(now.cycle.peak_ratio.data(),
                                                    static_cast<Eigen::Index>(now.cycle.peak_ratio.size()));
        out.peak_slope = peak_slope_;
        // A load higher by d at a node lowers its residual by d x weight.
        out.gain = misfit_weight(now.misfit) * peak_slope_ * out.covariance *
                   jacobian_.topRows(grid_.steps).transpose() * now.weight.asDiagonal();
        out.node_share.resize(grid_.steps);
        for (int k = 0; k < grid_.steps; ++k)
            out.node_share[k] = now.cycle.time_s[static_cast<std::size_t>(k)] / now.cycle.time_s.back();
        out.model = now.model;
        out.cycle = now.cycle;
        out.cost = now.cost;
        out.misfit_rms =
            (now.residual.head(grid_.steps).norm() / std::sqrt(1.0 * grid_.steps)) / point_weight_;
        out.slow_misfit_rms = slow_misfit(now);
        // What is more than noise is judged whole: with a part of it taken off, a wrong layout would pass.
        out.missed_rms = out.slow_misfit_rms <= data_.slow_noise ? 0.0 : out.slow_misfit_rms;
        out.swing = map_.swing;
        out.zero = map_.lift(z);
        return out;
    }

    const FitData& data_;
    UnknownsMap map_;
    Grid grid_;
    double point_weight_;
    bool noise_known_;
    bool shared_only_;
    Tangent tangent_;
    Eigen::MatrixXd jacobian_, peak_slope_, normal_, motion_slope_;
    std::optional<Eigen::MatrixXd> settling_;  ///< of the last linearisation
    Eigen::VectorXd gradient_;
};

}  // namespace

Eigen::ArrayXd peak_ratios(const FitResult& fit) {
    return fit.peak / fit.peak.maxCoeff();
}

double missed_share(const FitResult& fit) {
    return fit.missed_rms / fit.swing;
}

FitPoint with_loss(FitPoint from, Eigen::Index cylinder, Own kind, double unknown) {
    const Eigen::Index own = shared_unknowns + unknowns_per_cylinder * cylinder;
    from.unknowns.segment(own, unknowns_per_cylinder).setZero();
    from.unknowns[own + kind] = unknown;
    from.from = {};
    return from;
}

std::array<FitPoint, 2> starts_with_loss(const FitPoint& from, Eigen::Index cylinder, double ratio) {
    return {with_loss(from, cylinder, own_leak, hole_unknown),
            with_loss(from, cylinder, own_charge, charge_unknown(std::max(least_charge, ratio)))};
}

FitPoint improve(const FitData& data, const EngineLayout& layout, const FitOptions& options, FitPoint start,
                 int most_steps) {
    return Fit(data, layout, start.supposed, options).run(std::move(start), most_steps);
}

FitResult describe(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                   const FitPoint& at) {
    return Fit(data, layout, at.supposed, options).describe(at);
}

FoundFit fit_from(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                  FitPoint start) {
    FitOptions coarse = options;
    coarse.grid = coarse_grid;
    FitPoint end = improve(data, layout, coarse, std::move(start), steps_to_the_end);
    end = improve(data, layout, options, std::move(end), steps_to_the_end);
    return {describe(data, layout, options, end), end};
}

}  // namespace evenstroke::contribution
