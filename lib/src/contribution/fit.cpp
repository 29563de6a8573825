#include "fit.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "cycle_average.hpp"

namespace evenstroke::contribution {

namespace {

// The unknowns that all cylinders share, in the order of the vector.
enum Shared {
    stall,
    time_constant,
    share,
    drag,
    viscous,
    lag,
    ratio,
    leak,
    saturation,
    gas_scale,
    friction,
    slope,
    offset,
    zero_shift,
    shared_count
};
constexpr int per_cylinder = 3;  // charge, leak, compression ratio

constexpr double independent_points = 30;
constexpr double charge_sd = 0.03, leak_sd = 0.5, ratio_sd = 0.03;
constexpr double robust_degrees = 2.0;
constexpr double difference = 0.01;

struct Problem {
    const FitData& data;
    std::vector<double> firing_deg;
    double mean_load = 0;
    double swing = 0;
    double speed = 0;
    double period_s = 0;
    double point_weight = 0;
};

EngineModel model_of(const Problem& problem, const Eigen::VectorXd& z) {
    EngineModel m;
    const double mean = problem.mean_load;
    m.mean_load = mean;
    m.mean_speed_rad_s = problem.speed;
    m.stall = problem.data.inrush ? *problem.data.inrush * 1.05 * std::exp(0.1 * z[stall])
                                  : 3 * mean * std::exp(0.4 * z[stall]);
    m.stall = std::max(m.stall, 1.05 * mean);
    m.slope_per_rad_s = (m.stall - mean) / problem.speed * std::exp(0.1 * z[slope]);
    const double inertia = 0.12 * std::exp(0.8 * z[time_constant]) * m.slope_per_rad_s;
    const double part = 1 / (1 + std::exp(-1.0 * z[share]));
    m.starter_inertia = part * inertia;
    m.crank_inertia = (1 - part) * inertia;
    m.starter_drag = mean * 0.15 * std::exp(0.7 * z[drag]);
    m.viscous_share = 0.5 + 0.5 * z[viscous];
    m.electric_lag_s = 0.004 * std::exp(0.5 * z[lag]);
    m.saturation = 0.1 * std::exp(1.5 * z[saturation]);
    m.gas_scale = problem.swing * 1.0 * std::exp(z[gas_scale]);
    m.friction = 0.6 * mean * std::exp(z[friction]);
    const auto n = problem.firing_deg.size();
    m.cylinders.resize(n);
    for (std::size_t c = 0; c < n; ++c) {
        const auto at = shared_count + per_cylinder * static_cast<Eigen::Index>(c);
        CylinderGas& gas = m.cylinders[c];
        const double off = problem.data.offset_deg + problem.data.offset_sd_deg * z[offset];
        gas.firing_deg = problem.firing_deg[c] + off;
        gas.charge_ratio = 0.95 * std::exp(charge_sd * z[at]);
        gas.leak_per_s = 0.05 * std::exp(0.7 * z[leak] + leak_sd * z[at + 1]);
        gas.compression_ratio = 1 + 9 * std::exp(0.12 * z[ratio] + ratio_sd * z[at + 2]);
    }
    return m;
}

double zero_of(const Problem& problem, const Eigen::VectorXd& z) {
    return (problem.data.free_zero ? 0.1 : 0.01) * problem.mean_load * z[zero_shift];
}

std::vector<GasTable> tables_of(const EngineModel& model) {
    std::vector<GasTable> tables;
    tables.reserve(model.cylinders.size());
    for (const CylinderGas& gas : model.cylinders)
        tables.push_back(gas_table(gas.firing_deg, gas.compression_ratio));
    return tables;
}

struct Evaluation {
    Eigen::VectorXd residual;
    Eigen::ArrayXd peak;
    ModelCycle cycle;
};

Evaluation evaluate(const Problem& problem, const Eigen::VectorXd& z, CrankState& state, int cycles) {
    const EngineModel model = model_of(problem, z);
    const std::vector<GasTable> tables = tables_of(model);
    Evaluation out;
    for (int k = 0; k < cycles; ++k) out.cycle = run_cycle(model, tables, state);
    out.peak = Eigen::Map<const Eigen::ArrayXd>(out.cycle.peak_ratio.data(),
                                                static_cast<Eigen::Index>(out.cycle.peak_ratio.size()));
    const double total = out.cycle.time_s.back();
    const double lift = zero_of(problem, z);
    out.residual.resize(steps_per_cycle + 1);
    for (int k = 0; k < steps_per_cycle; ++k) {
        const auto at = static_cast<std::size_t>(k);
        const double width =
            (out.cycle.time_s[at + 1] - (k ? out.cycle.time_s[at - 1] : out.cycle.time_s[0])) /
            (k ? 2.0 : 1.0) / total * steps_per_cycle;
        const double measured = at_share(problem.data.load, out.cycle.time_s[at] / total) + lift;
        const double model_value = problem.data.speed ? out.cycle.speed_rad_s[at] : out.cycle.load[at];
        out.residual[k] = (model_value - measured) * problem.point_weight * std::sqrt(std::max(width, 0.0));
    }
    out.residual[steps_per_cycle] = (total / problem.period_s - 1) * 1000;
    return out;
}

double prior_cost(const Eigen::VectorXd& z) {
    double cost = z.head(shared_count).squaredNorm();
    for (Eigen::Index k = shared_count; k < z.size(); ++k)
        cost += robust_degrees * std::log1p(z[k] * z[k] / robust_degrees);
    return cost;
}

}  // namespace

FitResult fit_cycle(const FitData& data, const EngineLayout& layout, const FitOptions& options,
                    const Eigen::VectorXd& start) {
    Problem problem{data, layout.firing_tdc_deg()};
    problem.mean_load = data.load.mean();
    problem.period_s = data.period_s;
    problem.speed = 4 * pi / data.period_s;
    problem.swing = std::sqrt((data.load - data.load.mean()).square().mean());
    problem.point_weight =
        1 / (options.noise_share * problem.swing) * std::sqrt(independent_points / steps_per_cycle);
    const auto unknowns = static_cast<Eigen::Index>(shared_count) + per_cylinder * layout.cylinders();
    Eigen::VectorXd z = start;

    CrankState state = rest_state(model_of(problem, z));
    Evaluation now = evaluate(problem, z, state, 6);
    double cost = now.residual.squaredNorm() + prior_cost(z);
    double damping = 1e-2;
    FitResult result;
    Eigen::MatrixXd jacobian(now.residual.size(), unknowns);
    Eigen::MatrixXd peak_slope(now.peak.size(), unknowns);
    Eigen::MatrixXd normal;
    int step = 0;
    for (; step < options.most_steps; ++step) {
        CrankState base_state = state;
        const Evaluation base = evaluate(problem, z, base_state, 1);
        for (Eigen::Index k = 0; k < unknowns; ++k) {
            Eigen::VectorXd moved = z;
            moved[k] += difference;
            CrankState moved_state = state;
            const Evaluation other = evaluate(problem, moved, moved_state, 2);
            jacobian.col(k) = (other.residual - base.residual) / difference;
            peak_slope.col(k) = (other.peak - base.peak).matrix() / difference;
        }
        Eigen::VectorXd weight = Eigen::VectorXd::Ones(unknowns);
        for (Eigen::Index k = shared_count; k < unknowns; ++k)
            weight[k] = 1 / (1 + z[k] * z[k] / robust_degrees);
        normal = jacobian.transpose() * jacobian;
        normal.diagonal() += weight;
        const Eigen::VectorXd gradient = jacobian.transpose() * base.residual + weight.cwiseProduct(z);
        bool better = false;
        double gain = 0;
        for (int attempt = 0; attempt < 6 && !better; ++attempt) {
            Eigen::MatrixXd damped = normal;
            damped.diagonal() *= 1 + damping;
            Eigen::VectorXd move = damped.ldlt().solve(-gradient);
            const double longest = move.cwiseAbs().maxCoeff();
            if (longest > 2) move *= 2 / longest;
            const Eigen::VectorXd trial = z + move;
            CrankState trial_state = state;
            const Evaluation tried = evaluate(problem, trial, trial_state, 3);
            const double trial_cost = tried.residual.squaredNorm() + prior_cost(trial);
            if (std::isfinite(trial_cost) && trial_cost < cost) {
                gain = cost - trial_cost;
                z = trial;
                state = trial_state;
                now = tried;
                cost = trial_cost;
                damping = std::max(1e-6, damping / 5);
                better = true;
            } else {
                damping = std::max(damping * 8, 1e-3);
            }
        }
        if (!better || gain < 0.01 + 1e-4 * cost) break;
    }
    result.unknowns = z;
    result.model = model_of(problem, z);
    result.peak = now.peak;
    result.peak_slope = peak_slope;
    result.cycle = now.cycle;
    result.cost = cost;
    result.steps = step;
    result.zero = zero_of(problem, z);
    result.offset_deg = data.offset_deg + data.offset_sd_deg * z[offset];
    result.misfit_rms =
        std::sqrt(now.residual.head(steps_per_cycle).squaredNorm() / steps_per_cycle) / problem.point_weight;
    result.swing = problem.swing;
    result.covariance = normal.ldlt().solve(Eigen::MatrixXd::Identity(unknowns, unknowns));
    // A load higher by d at a node lowers its residual by d x weight.
    result.node_share.resize(steps_per_cycle);
    Eigen::VectorXd weight(steps_per_cycle);
    for (int k = 0; k < steps_per_cycle; ++k) {
        const auto at = static_cast<std::size_t>(k);
        result.node_share[k] = result.cycle.time_s[at] / result.cycle.time_s.back();
        const double width = (result.cycle.time_s[at + 1] - (k ? result.cycle.time_s[at - 1] : 0.0)) /
                             (k ? 2.0 : 1.0) / result.cycle.time_s.back() * steps_per_cycle;
        weight[k] = problem.point_weight * std::sqrt(std::max(width, 0.0));
    }
    result.gain =
        peak_slope * result.covariance * jacobian.topRows(steps_per_cycle).transpose() * weight.asDiagonal();
    return result;
}

FitResult fit_best(FitData data, const EngineLayout& layout, const std::vector<double>& offsets_deg) {
    const auto unknowns = static_cast<Eigen::Index>(shared_count) + per_cylinder * layout.cylinders();
    struct Start {
        double time_constant, share, saturation;
    };
    constexpr Start starts[] = {{0, 0, 0}, {-1, 0, 0}, {0.8, 0.8, 0}, {0, 0, 2.2}};
    FitOptions quick;
    quick.most_steps = 6;
    std::vector<std::pair<FitData, FitResult>> tried;
    for (const double offset_deg : offsets_deg)
        for (const Start& s : starts) {
            Eigen::VectorXd z = Eigen::VectorXd::Zero(unknowns);
            z[time_constant] = s.time_constant;
            z[share] = s.share;
            z[saturation] = s.saturation;
            FitData one = data;
            one.offset_deg = offset_deg;
            tried.emplace_back(one, fit_cycle(one, layout, quick, z));
        }
    std::sort(tried.begin(), tried.end(),
              [](const auto& a, const auto& b) { return a.second.cost < b.second.cost; });
    FitOptions full;
    FitResult best = fit_cycle(tried[0].first, layout, full, tried[0].second.unknowns);
    for (std::size_t k = 1; k < std::min<std::size_t>(2, tried.size()); ++k) {
        FitResult other = fit_cycle(tried[k].first, layout, full, tried[k].second.unknowns);
        if (other.cost < best.cost) best = std::move(other);
    }
    return best;
}

}  // namespace evenstroke::contribution
