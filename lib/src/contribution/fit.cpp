#include "fit.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

#include "cycle_average.hpp"

namespace evenstroke::contribution {

namespace {

/// Neighbouring points of a cycle err alike; so many stand for themselves.
constexpr double independent_points = 30;
/// What is believed of the model's error before it is seen counts as so many of those points.
constexpr double believed_points = 10;
/// Weight of the period: 0.1 % off costs one.
constexpr double period_weight = 1000;
/// A slow misfit is the mean over so many nodes to either side: 22 degrees in all, which ripple and noise do
/// not last.
constexpr Eigen::Index slow_reach = 5;
constexpr double first_damping = 3.0, least_damping = 1e-4, most_damping = 1e6;
/// Longest step of one unknown, in its prior's standard deviations.
constexpr double longest_move = 2;
/// A cycle is periodic when its speed ends within this share of where it began; so many cycles are tried.
constexpr double periodic_share = 3e-5;
constexpr int most_cycles = 14;
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

class Fit {
  public:
    Fit(const FitData& data, const EngineLayout& layout, const FitOptions& options)
        : data_(data),
          map_(data, layout),
          point_weight_(std::sqrt(independent_points / steps_per_cycle) / (options.noise_share * map_.swing)),
          noise_known_(options.noise_known),
          shared_only_(options.shared_only) {}

    [[nodiscard]] FitResult run(Eigen::VectorXd z, int most_steps) {
        Evaluation now;
        now.state = rest_state(map_.model(z));
        evaluate(z, now);
        double damping = first_damping;
        int step = 0;
        for (; step < most_steps; ++step) {
            linearise(z, now);
            const double before = now.cost;
            if (!improve(z, now, damping)) break;
            if (before - now.cost < least_gain + least_gain_share * now.cost) break;
        }
        linearise(z, now);
        return result(z, now, step);
    }

  private:
    void evaluate(const Eigen::VectorXd& z, Evaluation& e) const {
        e.model = map_.model(z);
        e.tables.clear();
        for (const CylinderGas& gas : e.model.cylinders)
            e.tables.push_back(gas_table(gas.firing_deg, gas.compression_ratio));
        settle(e);
        const auto& time = e.cycle.time_s;
        const double total = time.back();
        const double lift = map_.lift(z);
        e.residual.resize(steps_per_cycle + 1);
        e.weight.resize(steps_per_cycle);
        for (int k = 0; k < steps_per_cycle; ++k) {
            const auto at = static_cast<std::size_t>(k);
            const double before = k > 0 ? time[at - 1] : time[steps_per_cycle - 1] - total;
            const double width = 0.5 * (time[at + 1] - before) / total * steps_per_cycle;
            e.weight[k] = point_weight_ * std::sqrt(std::max(width, 0.0));
            e.residual[k] = (e.cycle.load[at] - at_share(data_.load, time[at] / total) - lift) * e.weight[k];
        }
        e.residual[steps_per_cycle] = (total / data_.period_s - 1) * period_weight;
        e.misfit = e.residual.head(steps_per_cycle).squaredNorm();
        e.cost =
            misfit_cost(e.misfit) + std::pow(e.residual[steps_per_cycle], 2) + UnknownsMap::prior_cost(z);
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

    /// Repeats the cycle until it ends as it began. A slow engine settles over many cycles, each change a
    /// constant share of the one before: that geometric series is summed at once.
    static void settle(Evaluation& e) {
        double change_before = 0;
        for (int k = 0; k < most_cycles; ++k) {
            const double start = e.state.motion.crank_rad_s;
            run_cycle(e.model, e.tables, e.state, e.cycle);
            const double change = e.state.motion.crank_rad_s - start;
            if (std::abs(change) < periodic_share * start) return;
            const double ratio = change_before != 0 ? change / change_before : 0;
            change_before = change;
            if (ratio <= -0.8 || ratio >= 0.95 || ratio == 0) continue;
            const double gain = change * ratio / (1 - ratio);
            const double limit = e.state.motion.crank_rad_s + gain;
            if (limit < start / 3 || limit > 3 * start) continue;
            e.state.motion.crank_rad_s = limit;
            e.state.motion.starter_rad_s += gain;
            change_before = 0;
        }
    }

    void linearise(const Eigen::VectorXd& z, Evaluation& now) {
        const Tangent tangent = tangent_of(now.model, now.tables, now.cycle);
        const Eigen::MatrixXd chain = map_.chain(z);
        const double total = now.cycle.time_s.back();
        const Eigen::Index last = steps_per_cycle;
        Eigen::MatrixXd by_column = tangent.load.topRows(last).matrix();
        for (Eigen::Index k = 0; k < last; ++k) {
            // The data are looked up at a share of the time, which moves too.
            const double at = now.cycle.time_s[static_cast<std::size_t>(k)] / total;
            constexpr double reach = 1.0 / places;
            const double slope =
                (at_share(data_.load, at + reach) - at_share(data_.load, at - reach)) / (2 * reach);
            by_column.row(k) -=
                (slope / total * (tangent.time.row(k) - at * tangent.time.row(last))).matrix();
        }
        jacobian_.resize(last + 1, map_.size());
        jacobian_.topRows(last).noalias() = now.weight.asDiagonal() * (by_column * chain);
        jacobian_.col(at_zero).head(last) -= map_.lift_sd() * now.weight;
        jacobian_.row(last) = period_weight / data_.period_s * (tangent.time.row(last).matrix() * chain);
        peak_slope_ = tangent.peak.matrix() * chain;
        Eigen::VectorXd counts = Eigen::VectorXd::Constant(last + 1, misfit_weight(now.misfit));
        counts[last] = 1;
        normal_.noalias() = jacobian_.transpose() * counts.asDiagonal() * jacobian_;
        const Eigen::VectorXd weight = UnknownsMap::prior_weight(z);
        normal_.diagonal() += weight;
        gradient_ = jacobian_.transpose() * counts.cwiseProduct(now.residual) + weight.cwiseProduct(z);
        if (shared_only_) hold_own();
        // Newton's step towards the periodic state, kept when it is small.
        const double shift = std::abs(tangent.next.crank_rad_s / now.cycle.speed_rad_s[0] - 1);
        if (shift < 0.1 && tangent.next.twist_rad >= 0) now.state.motion = tangent.next;
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
            Eigen::VectorXd move = damped.ldlt().solve(-gradient_);
            const double longest = move.cwiseAbs().maxCoeff();
            if (longest > longest_move) move *= longest_move / longest;
            trial.state = now.state;
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

    /// The misfit without what changes within a few degrees: ripple and noise, which no model of the engine
    /// makes.
    [[nodiscard]] static double slow_misfit(const Evaluation& e) {
        const Eigen::ArrayXd off = e.residual.head(steps_per_cycle).array() / e.weight.array();
        double square = 0;
        for (Eigen::Index k = 0; k < steps_per_cycle; ++k) {
            double sum = 0;
            for (Eigen::Index d = -slow_reach; d <= slow_reach; ++d)
                sum += off[(k + d + steps_per_cycle) % steps_per_cycle];
            square += std::pow(sum / (2 * slow_reach + 1), 2);
        }
        return std::sqrt(square / steps_per_cycle);
    }

    [[nodiscard]] FitResult result(const Eigen::VectorXd& z, const Evaluation& now, int steps) const {
        FitResult out;
        out.unknowns = z;
        out.covariance = normal_.ldlt().solve(Eigen::MatrixXd::Identity(z.size(), z.size()));
        out.peak = Eigen::Map<const Eigen::ArrayXd>(now.cycle.peak_ratio.data(),
                                                    static_cast<Eigen::Index>(now.cycle.peak_ratio.size()));
        out.peak_slope = peak_slope_;
        // A load higher by d at a node lowers its residual by d x weight.
        out.gain = misfit_weight(now.misfit) * peak_slope_ * out.covariance *
                   jacobian_.topRows(steps_per_cycle).transpose() * now.weight.asDiagonal();
        out.node_share.resize(steps_per_cycle);
        for (int k = 0; k < steps_per_cycle; ++k)
            out.node_share[k] = now.cycle.time_s[static_cast<std::size_t>(k)] / now.cycle.time_s.back();
        out.model = now.model;
        out.cycle = now.cycle;
        out.cost = now.cost;
        out.misfit_rms =
            (now.residual.head(steps_per_cycle).norm() / std::sqrt(1.0 * steps_per_cycle)) / point_weight_;
        out.slow_misfit_rms = slow_misfit(now);
        out.swing = map_.swing;
        out.zero = map_.lift(z);
        out.steps = steps;
        return out;
    }

    const FitData& data_;
    UnknownsMap map_;
    double point_weight_;
    bool noise_known_;
    bool shared_only_;
    Eigen::MatrixXd jacobian_, peak_slope_, normal_;
    Eigen::VectorXd gradient_;
};

/// Start values that lead into the different ways an engine can crank, in prior standard deviations.
struct Start {
    double time_constant, starter_share, saturation;
};
constexpr Start starts[] = {{0, 0, 0},    {-1, 0, 0},      {0.8, 0.8, 0}, {0, 0, 2.2},
                            {-1, 0, 2.2}, {0.8, 0.8, 2.2}, {1.2, 0, 1},   {1.6, 1, 0}};
/// A clutch that hardly slips, from which coasting sets in gradually, and one that overruns from the first.
/// Engines of few cylinders coast for much of the cycle, and no gradual way leads there.
constexpr double locked_overrun = -3, free_overrun = 0.5;
/// First all cylinders alike, so that no fault is invented to mend a wrong inertia; then each on its own.
/// With few cylinders a fault shapes the whole cycle: there the way without is tried as well.
constexpr int few_cylinders = 5;
/// The trials see the data through a wide error, so that the priors lead; then the error is narrowed. Each
/// round costs more steps a trial, and fewer trials live to see it.
constexpr double trial_noise_share = 0.08;
constexpr int first_steps = 4, trial_steps = 5, heat_steps = 10;
constexpr std::size_t trials_each_way = 8, heats = 8, finalists = 3;
/// Two cylinders coast, stall and shape each other most, and cost least: all trials live on.
constexpr int fewest_cylinders = 2;

struct Tried {
    double offset_deg;
    FitResult fit;
};

void keep_best(std::vector<Tried>& tried, std::size_t most) {
    std::sort(tried.begin(), tried.end(),
              [](const Tried& a, const Tried& b) { return a.fit.cost < b.fit.cost; });
    if (tried.size() > most) tried.erase(tried.begin() + static_cast<std::ptrdiff_t>(most), tried.end());
}

}  // namespace

FitResult fit_cycle(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                    const Eigen::VectorXd& start) {
    return Fit(data, layout, options).run(start, options.most_steps);
}

FitResult fit_best(FitData data, const EngineLayout& layout, const std::vector<double>& offsets_deg) {
    const FitOptions narrow;
    FitOptions loose;
    loose.noise_share = trial_noise_share;
    loose.noise_known = true;
    FitOptions alike = loose;
    alike.shared_only = true;
    const auto go_on = [&](std::vector<Tried>& tried, const FitOptions& options, int steps,
                           std::size_t keep) {
        for (Tried& t : tried) {
            data.offset_deg = t.offset_deg;
            t.fit = Fit(data, layout, options).run(t.fit.unknowns, steps);
        }
        keep_best(tried, keep);
    };
    std::vector<Tried> tried;
    for (const double offset_deg : offsets_deg)
        for (const Start& s : starts)
            for (const double overrun : {locked_overrun, free_overrun}) {
                Tried t{.offset_deg = offset_deg};
                t.fit.unknowns = Eigen::VectorXd::Zero(UnknownsMap(data, layout).size());
                t.fit.unknowns[at_time_constant] = s.time_constant;
                t.fit.unknowns[at_starter_share] = s.starter_share;
                t.fit.unknowns[at_overrun] = overrun;
                t.fit.unknowns[at_saturation] = s.saturation;
                tried.push_back(std::move(t));
            }
    const bool fewest = layout.cylinders() <= fewest_cylinders;
    const std::size_t keep = fewest ? tried.size() : trials_each_way * offsets_deg.size();
    std::vector<Tried> each_own = tried;
    go_on(tried, alike, first_steps, keep);
    if (layout.cylinders() <= few_cylinders) {
        go_on(each_own, loose, first_steps, keep);
        std::move(each_own.begin(), each_own.end(), std::back_inserter(tried));
    }
    go_on(tried, loose, trial_steps, fewest ? keep : heats);
    go_on(tried, narrow, heat_steps, finalists);
    go_on(tried, narrow, narrow.most_steps, 1);
    return tried.front().fit;
}

}  // namespace evenstroke::contribution
