#include "crank_tangent.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

constexpr double step_rad = step_deg * pi / 180;

/// Derivatives at one node, one entry a column; the last three columns are the state at node 0.
struct Moved {
    Eigen::ArrayXd crank, starter, load, time;
    Eigen::ArrayXXd kept;  ///< ln of the charge that each cylinder's leak left, through the dwell alone
};

/// Flux and its slopes.
struct Flux {
    double value = 1;
    double by_load = 0;
    double by_saturation = 0;
};

Flux flux_of(const EngineModel& m, double load) {
    Flux f;
    f.value = flux(m, load);
    if (m.saturation <= 0) return f;
    const double x = std::max(load, 0.02 * m.mean_load) / m.mean_load;
    const double below = x + m.saturation;
    f.by_load = (1 + m.saturation) * m.saturation / (below * below) / m.mean_load;
    f.by_saturation = x * (x - 1) / (below * below);
    return f;
}

/// Torque of the gas by column (per unit), I.
void add_gas(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle,
             std::size_t node, double factor, const Eigen::ArrayXXd& kept, Eigen::ArrayXd& force) {
    const std::size_t at = node % steps_per_cycle;
    const std::size_t n = tables.size();
    for (std::size_t c = 0; c < n; ++c) {
        const double absolute = cycle.absolute[node * n + c];
        if (absolute == 0) continue;
        const double push = factor * m.gas_scale * absolute * (1 - tables[c].open[at]) * tables[c].slope[at];
        const auto col = shared_columns + columns_per_cylinder * static_cast<Eigen::Index>(c);
        force[col] += push * cycle.leak_slope[node * n + c];
        force[col + 1] += push;
        force += push * kept.col(static_cast<Eigen::Index>(c));
        force[col + 2] += push * (tables[c].ratio_slope[at] + cycle.geometry_slope[node * n + c]);
    }
    force[col_gas_scale] += factor * cycle.gas[node] / m.gas_scale;
    const std::size_t above = node + 1 <= steps_per_cycle ? node + 1 : 1;
    const std::size_t below = node > 0 ? node - 1 : steps_per_cycle - 1;
    force[col_offset_rad] -= factor * (cycle.gas[above] - cycle.gas[below]) / (2 * step_rad);
}

struct StepPoint {
    double crank, starter, load, step_s;
};

/// The current over one step.
Eigen::ArrayXd next_load(const EngineModel& m, const Moved& now, const StepPoint& mid, double load_start,
                         bool engaged) {
    const Flux f = flux_of(m, mid.load);
    const double target = m.stall - m.slope_per_rad_s * f.value * mid.starter;
    const double fade = std::exp(-mid.step_s / m.electric_lag_s);
    const Eigen::ArrayXd& speed = engaged ? now.crank : now.starter;
    Eigen::ArrayXd aim =
        -m.slope_per_rad_s * f.value * speed - m.slope_per_rad_s * mid.starter * f.by_load * now.load;
    aim[col_stall] += 1;
    aim[col_slope] -= f.value * mid.starter;
    aim[col_saturation] -= m.slope_per_rad_s * mid.starter * f.by_saturation;
    const double slide = (load_start - target) * fade * mid.step_s / m.electric_lag_s;
    Eigen::ArrayXd out = (1 - fade) * aim + fade * now.load + slide * now.crank / mid.crank;
    out[col_lag] += slide / m.electric_lag_s;
    return out;
}

/// Trapezoid in the column's own speed, everything else at the middle of the step.
void advance(Eigen::ArrayXd& value, double own, const Eigen::ArrayXd& forcing) {
    const double a = std::clamp(0.5 * step_rad * own, -0.9, 0.9);
    value = (value * (1 + a) + step_rad * forcing) / (1 - a);
}

/// A faster crank gives the leaks less time.
void dwell(const ModelCycle& cycle, std::size_t cylinders, std::size_t node, double speed, Moved& now) {
    for (std::size_t c = 0; c < cylinders; ++c) {
        const std::size_t before = node * cylinders + c;
        const std::size_t after = before + cylinders;
        const auto col = static_cast<Eigen::Index>(c);
        if (cycle.absolute[before] == 0 || cycle.absolute[after] == 0) {
            if (cycle.absolute[before] != 0) now.kept.col(col).setZero();
            continue;
        }
        const double lost = cycle.leak_slope[before] - cycle.leak_slope[after];
        now.kept.col(col) += lost / speed * now.crank;
    }
}

void step(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle,
          std::size_t node, Moved& now) {
    const double step_s = cycle.time_s[node + 1] - cycle.time_s[node];
    const StepPoint mid{step_rad / step_s, 0.5 * (cycle.starter_rad_s[node] + cycle.starter_rad_s[node + 1]),
                        0.5 * (cycle.load[node] + cycle.load[node + 1]), step_s};
    const bool engaged = cycle.engaged[node];
    const Flux f = flux_of(m, mid.load);
    const double pull = f.value + mid.load * f.by_load;
    const double drag_slope = m.friction * m.viscous_share / m.mean_speed_rad_s;
    const double brake = friction(m, mid.crank) - 0.5 * (cycle.gas[node] + cycle.gas[node + 1]);
    const double drive = mid.load * f.value - m.starter_drag;

    const Eigen::ArrayXd load_after = next_load(m, now, mid, cycle.load[node], engaged);
    const Eigen::ArrayXd load_mid = 0.5 * (now.load + load_after);
    Eigen::ArrayXd force = Eigen::ArrayXd::Zero(now.load.size());
    add_gas(m, tables, cycle, node, 0.5, now.kept, force);
    dwell(cycle, tables.size(), node, mid.crank, now);
    add_gas(m, tables, cycle, node + 1, 0.5, now.kept, force);
    const double share = mid.crank / m.mean_speed_rad_s - 1;
    force[col_friction] -= 1 + m.viscous_share * share;
    force[col_viscous] -= m.friction * share;

    const Eigen::ArrayXd crank_before = now.crank;
    if (engaged) {
        const double inertia = m.crank_inertia + m.starter_inertia;
        const double acceleration = (drive - brake) / inertia;
        force += pull * load_mid;
        force[col_drag] -= 1;
        force[col_saturation] += mid.load * f.by_saturation;
        force[col_crank_inertia] -= acceleration;
        force[col_starter_inertia] -= acceleration;
        const double own = -drag_slope / inertia / mid.crank - acceleration / (mid.crank * mid.crank);
        advance(now.crank, own, force / (inertia * mid.crank));
        now.starter = now.crank;
    } else {
        const double mid_starter = mid.starter;
        const double apart = std::max(0.0, mid.crank - mid_starter);
        const double pull_rate = m.starter_inertia / m.overrun_s;
        const double acceleration = -(brake + pull_rate * apart) / m.crank_inertia;
        force[col_crank_inertia] -= acceleration;
        Eigen::ArrayXd drag = pull_rate * -now.starter;  // the crank's own part is implicit
        drag[col_overrun] -= pull_rate * apart / m.overrun_s;
        drag[col_starter_inertia] += apart / m.overrun_s;
        const double own =
            -(drag_slope + pull_rate) / m.crank_inertia / mid.crank - acceleration / (mid.crank * mid.crank);
        advance(now.crank, own, (force - drag) / (m.crank_inertia * mid.crank));
        const double alone = (drive + pull_rate * apart) / m.starter_inertia;
        Eigen::ArrayXd turn = pull * load_mid;
        turn[col_drag] -= 1;
        turn[col_saturation] += mid.load * f.by_saturation;
        turn[col_starter_inertia] -= alone;
        const Eigen::ArrayXd crank_mid = 0.5 * (crank_before + now.crank);
        turn += pull_rate * crank_mid;
        turn[col_overrun] -= pull_rate * apart / m.overrun_s;
        turn[col_starter_inertia] += apart / m.overrun_s;
        advance(now.starter, -pull_rate / m.starter_inertia / mid.crank,
                turn / (m.starter_inertia * mid.crank) - alone / (mid.crank * mid.crank) * crank_mid);
        const bool joins =
            node + 1 < cycle.engaged.size() && cycle.starter_rad_s[node + 1] == cycle.speed_rad_s[node + 1];
        if (joins)
            now.starter = now.crank = (m.crank_inertia * now.crank + m.starter_inertia * now.starter) /
                                      (m.crank_inertia + m.starter_inertia);
    }
    now.load = load_after;
    now.time -= step_rad * 0.5 * (crank_before + now.crank) / (mid.crank * mid.crank);
}

}  // namespace

Tangent tangent_of(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle) {
    const auto n = static_cast<Eigen::Index>(tables.size());
    const Eigen::Index columns = shared_columns + columns_per_cylinder * n;
    const bool engaged = cycle.starter_rad_s[0] == cycle.speed_rad_s[0];
    Moved now;
    for (Eigen::ArrayXd* a : {&now.crank, &now.starter, &now.load, &now.time})
        *a = Eigen::ArrayXd::Zero(columns + 3);
    now.kept = Eigen::ArrayXXd::Zero(columns + 3, n);
    now.crank[columns] = 1;
    now.load[columns + 1] = 1;
    if (engaged)
        now.starter[columns] = 1;
    else
        now.starter[columns + 2] = 1;

    Eigen::ArrayXXd load(columns + 3, steps_per_cycle + 1);
    Eigen::ArrayXXd speed(columns + 3, steps_per_cycle + 1);
    Eigen::ArrayXXd time(columns + 3, steps_per_cycle + 1);
    for (std::size_t node = 0;; ++node) {
        const auto at = static_cast<Eigen::Index>(node);
        load.col(at) = now.load;
        speed.col(at) = now.crank;
        time.col(at) = now.time;
        if (node == steps_per_cycle) break;
        step(m, tables, cycle, node, now);
    }

    // The state at node 0 follows the state at the end: solve for the periodic one.
    const Eigen::Index states = engaged ? 2 : 3;
    Eigen::MatrixXd ends(states, columns + 3);
    ends.row(0) = now.crank.transpose();
    ends.row(1) = now.load.transpose();
    if (!engaged) ends.row(2) = now.starter.transpose();
    const Eigen::MatrixXd keep = Eigen::MatrixXd::Identity(states, states) - ends.middleCols(columns, states);
    const Eigen::PartialPivLU<Eigen::MatrixXd> solver(keep);
    const Eigen::MatrixXd initial = solver.solve(ends.leftCols(columns));
    Eigen::VectorXd drift(states);
    drift[0] = cycle.speed_rad_s.back() - cycle.speed_rad_s.front();
    drift[1] = cycle.load.back() - cycle.load.front();
    if (!engaged) drift[2] = cycle.starter_rad_s.back() - cycle.starter_rad_s.front();
    const Eigen::VectorXd shift = solver.solve(drift);

    Tangent out;
    const auto periodic = [&](const Eigen::ArrayXXd& rows) {
        Eigen::ArrayXXd result = rows.topRows(columns);
        result.matrix() += initial.transpose() * rows.matrix().middleRows(columns, states);
        return Eigen::ArrayXXd(result.transpose());
    };
    out.load = periodic(load);
    out.speed = periodic(speed);
    out.time = periodic(time);
    out.next_crank_rad_s = cycle.speed_rad_s.front() + shift[0];
    out.next_load = cycle.load.front() + shift[1];
    out.next_starter_rad_s = engaged ? out.next_crank_rad_s : cycle.starter_rad_s.front() + shift[2];
    out.peak = Eigen::ArrayXXd::Zero(n, columns);
    for (Eigen::Index c = 0; c < n; ++c) {
        const auto node = static_cast<std::size_t>(cycle.peak_node[static_cast<std::size_t>(c)]);
        const std::size_t cell = node * tables.size() + static_cast<std::size_t>(c);
        const Eigen::Index col = shared_columns + columns_per_cylinder * c;
        out.peak(c, col) = cycle.absolute[cell] * cycle.leak_slope[cell];
        out.peak(c, col + 1) = cycle.absolute[cell];
        out.peak(c, col + 2) =
            cycle.absolute[cell] * (tables[static_cast<std::size_t>(c)].ratio_slope[node % steps_per_cycle] +
                                    cycle.geometry_slope[cell]);
    }
    return out;
}

}  // namespace evenstroke::contribution
