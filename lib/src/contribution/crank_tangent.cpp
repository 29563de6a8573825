#include "crank_tangent.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <optional>
#include <unsupported/Eigen/AutoDiff>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

/// What one step depends on: the motion and the gas torque at its start, that at its end, the drive. What a
/// dual-mass flywheel adds is left out where there is none: most of the time of a fit is spent here.
template <bool sprung>
struct Inputs {
    static constexpr int motions = sprung ? in_wind + 1 : in_load + 1;
    static constexpr int gas = motions, gas_after = motions + 1, drive = motions + 2;
    static constexpr int drive_columns = sprung ? col_gas_scale : col_sprung_inertia;
    static constexpr int all = drive + drive_columns;
    /// Padded to an even length, so that two at a time fit the processor's registers.
    static constexpr int padded = all + all % 2;
    using Derivative = Eigen::Matrix<double, padded, 1>;
    using Number = Eigen::AutoDiffScalar<Derivative>;

    static Number variable(double value, int input) { return {value, Derivative::Unit(input)}; }
};

/// The drive, each quantity its own variable, in the order of the columns.
template <bool sprung>
Drive<typename Inputs<sprung>::Number> drive_of(const EngineModel& m) {
    using In = Inputs<sprung>;
    const auto own = [](double value, Column column) {
        return In::variable(value, In::drive + static_cast<int>(column));
    };
    Drive<typename In::Number> drive{.stall = own(m.stall, col_stall),
                                     .slope_per_rad_s = own(m.slope_per_rad_s, col_slope),
                                     .electric_lag_s = own(m.electric_lag_s, col_lag),
                                     .crank_inertia = own(m.crank_inertia, col_crank_inertia),
                                     .starter_inertia = own(m.starter_inertia, col_starter_inertia),
                                     .starter_drag = own(m.starter_drag, col_drag),
                                     .overrun_s = own(m.overrun_s, col_overrun),
                                     .friction = own(m.friction, col_friction),
                                     .viscous_share = own(m.viscous_share, col_viscous),
                                     .saturation = own(m.saturation, col_saturation),
                                     .clutch_rad_s = own(m.clutch_rad_s, col_clutch),
                                     .sprung_inertia = 0.0,
                                     .spring_rad_s = 0.0,
                                     .mean_speed_rad_s = m.mean_speed_rad_s,
                                     .mean_load = m.mean_load};
    if constexpr (sprung) {
        drive.sprung_inertia = own(m.sprung_inertia, col_sprung_inertia);
        drive.spring_rad_s = own(m.spring_rad_s, col_spring);
    }
    return drive;
}

/// Derivatives at one node, a row a column of the tangent and a column a quantity, so that what a quantity
/// does lies side by side; the last rows are the motion at node 0.
template <bool sprung>
struct Moved {
    /// The motion; gas torque at this node, gas torque at the next.
    Eigen::Matrix<double, Eigen::Dynamic, Inputs<sprung>::drive> start;
    /// The motion; duration of the step.
    Eigen::Matrix<double, Eigen::Dynamic, Inputs<sprung>::motions + 1> end;
    Eigen::ArrayXXd kept;  ///< by cylinder: ln of the pressure factor that the leak left
};

/// Torque of the gas at `node`, into `slope`.
template <class Column>
void gas_slope(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle,
               std::size_t node, const Eigen::ArrayXXd& kept, Column&& slope) {
    slope.setZero();
    const Grid grid = tables.front().grid;
    const auto steps = static_cast<std::size_t>(grid.steps);
    const std::size_t at = node % steps;
    const std::size_t n = tables.size();
    for (std::size_t c = 0; c < n; ++c) {
        const double absolute = cycle.absolute[node * n + c];
        if (m.valve_share > 0) slope[col_valves] += m.gas_scale * tables[c].valves[at];
        const double turn = m.gas_scale * tables[c].slope[at];
        if (tables[c].open[at] < 0) slope[col_intake] += m.cylinders[c].intake_ratio * turn;
        if (absolute == 0) continue;
        const double push = absolute * (1 - tables[c].open[at]) * turn;
        const auto cylinder = static_cast<Eigen::Index>(c);
        slope += push * kept.col(cylinder).matrix();
        const auto col = shared_columns + columns_per_cylinder * cylinder;
        slope[col + 1] += push;
        slope[col_intake] += push;
        slope[col + 2] += push * tables[c].ratio_slope[at];
    }
    slope[col_gas_scale] += cycle.gas[node] / m.gas_scale;
    const std::size_t above = node + 1 <= steps ? node + 1 : 1;
    const std::size_t below = node > 0 ? node - 1 : steps - 1;
    slope[col_offset_rad] -= (cycle.gas[above] - cycle.gas[below]) / (2 * grid.step_rad());
}

/// What takes ln of the charge's kept share down over a step.
struct LeakSlope {
    double by_leak = 0;      ///< for each ln of leak area, and of the step's time
    double by_pressure = 0;  ///< for each ln of the pressure before the step
};

/// Of the step from `node` to the next; empty while the cylinder is open.
std::optional<LeakSlope> leak_slope(const EngineModel& m, const std::vector<GasTable>& tables,
                                    const ModelCycle& cycle, std::size_t node, std::size_t cylinder) {
    const std::size_t n = tables.size();
    const std::size_t before = node * n + cylinder, after = before + n;
    if (cycle.absolute[after] == 0) return std::nullopt;
    const GasTable& table = tables[cylinder];
    const CylinderGas& gas = m.cylinders[cylinder];
    const std::size_t at = table.grid.wrapped(static_cast<int>(node) + 1);
    const double sealed = gas.charge_ratio * table.pressure[at];
    const double kept = cycle.kept[before];
    const double step_s = cycle.time_s[node + 1] - cycle.time_s[node];
    const LeakStep leak = leak_step(gas, table, at, step_s, sealed, kept);
    if (leak.evened) return LeakSlope{.by_leak = 0, .by_pressure = 1};  // ambient, whatever came before
    if (leak.bounded) return LeakSlope{};
    const double steepened = 1 / (1 - 0.25 * leak.lost * leak.lost);
    const double per_flow = polytropic_exponent * gas.leak_per_s * table.leak[at] * step_s;
    return LeakSlope{.by_leak = steepened * leak.lost,
                     // It evens out at most.
                     .by_pressure = std::min(1.0, steepened * per_flow * leak_flow_slope(sealed * kept))};
}

/// d ln kept by a cylinder's own three columns over the step from `node`, from what it was before.
Eigen::Array3d own_kept(const std::vector<GasTable>& tables, const LeakSlope& leak, std::size_t node,
                        std::size_t cylinder, const Eigen::Array3d& before) {
    const GasTable& table = tables[cylinder];
    const std::size_t at = table.grid.wrapped(static_cast<int>(node) + 1);
    const Eigen::Array3d added(
        leak.by_leak, leak.by_pressure,
        leak.by_leak * table.leak_ratio_slope[at] + leak.by_pressure * table.ratio_slope[at]);
    return (1 - leak.by_pressure) * before - added;
}

/// d ln kept at node 0, columns x cylinders, of those that are closed there: what their own columns did in
/// the cycle before.
Eigen::ArrayXXd kept_at_start(const EngineModel& m, const std::vector<GasTable>& tables,
                              const ModelCycle& cycle, Eigen::Index rows) {
    const auto steps = static_cast<std::size_t>(tables.front().grid.steps);
    Eigen::ArrayXXd kept = Eigen::ArrayXXd::Zero(rows, static_cast<Eigen::Index>(tables.size()));
    for (std::size_t c = 0; c < tables.size(); ++c) {
        if (cycle.absolute[c] == 0) continue;
        Eigen::Array3d own = Eigen::Array3d::Zero();
        for (std::size_t node = 0; node < steps; ++node) {
            const auto leak = leak_slope(m, tables, cycle, node, c);
            own = leak ? own_kept(tables, *leak, node, c, own) : Eigen::Array3d::Zero();
        }
        const auto cylinder = static_cast<Eigen::Index>(c);
        kept.col(cylinder).segment<columns_per_cylinder>(shared_columns + columns_per_cylinder * cylinder) =
            own;
        kept(col_intake, cylinder) = own[1];
    }
    return kept;
}

/// Leaks over the step from `node`, whose time moves by `step_slope` (ln).
void leak(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle,
          std::size_t node, const Eigen::ArrayXd& step_slope, Eigen::ArrayXXd& kept) {
    for (std::size_t c = 0; c < tables.size(); ++c) {
        const auto cylinder = static_cast<Eigen::Index>(c);
        const auto slope = leak_slope(m, tables, cycle, node, c);
        if (!slope) {
            kept.col(cylinder).setZero();
            continue;
        }
        const auto own = shared_columns + columns_per_cylinder * cylinder;
        const Eigen::Array3d before = kept.col(cylinder).segment<columns_per_cylinder>(own);
        kept.col(cylinder) = (1 - slope->by_pressure) * kept.col(cylinder) - slope->by_leak * step_slope;
        kept.col(cylinder).segment<columns_per_cylinder>(own) =
            own_kept(tables, *slope, node, c, before) -
            slope->by_leak * step_slope.segment<columns_per_cylinder>(own);
        kept(col_intake, cylinder) -= slope->by_pressure;
    }
}

/// Notes the peaks that lie at `node`, columns x cylinders.
void peak_slope(const std::vector<GasTable>& tables, const ModelCycle& cycle, std::size_t node,
                const Eigen::ArrayXXd& kept, Eigen::ArrayXXd& peak) {
    for (std::size_t c = 0; c < tables.size(); ++c) {
        // What came before node 0 is known at the end of the cycle only, which is the same place.
        const int peak_node = cycle.peak_node[c] == 0 ? tables[c].grid.steps : cycle.peak_node[c];
        if (static_cast<std::size_t>(peak_node) != node) continue;
        const auto cylinder = static_cast<Eigen::Index>(c);
        const auto own = shared_columns + columns_per_cylinder * cylinder;
        peak.col(cylinder) = kept.col(cylinder);
        peak(own + 1, cylinder) += 1;
        peak(col_intake, cylinder) += 1;
        peak(own + 2, cylinder) += tables[c].ratio_slope[tables[c].grid.wrapped(static_cast<int>(node))];
        peak.col(cylinder) *= cycle.absolute[node * tables.size() + c];
    }
}

template <bool sprung>
void step(const EngineModel& m, const Drive<typename Inputs<sprung>::Number>& drive,
          const Joint<typename Inputs<sprung>::Number>& joint, const std::vector<GasTable>& tables,
          const ModelCycle& cycle, std::size_t node, Moved<sprung>& now) {
    using In = Inputs<sprung>;
    using Number = typename In::Number;
    StepState<Number> from{.crank_rad_s = In::variable(cycle.speed_rad_s[node], in_crank),
                           .starter_rad_s = In::variable(cycle.starter_rad_s[node], in_starter),
                           .twist_rad = In::variable(cycle.twist_rad[node], in_twist),
                           .load = In::variable(cycle.load[node], in_load),
                           .sprung_rad_s = {},
                           .wind_rad = {}};
    if constexpr (sprung) {
        from.sprung_rad_s = In::variable(cycle.sprung_rad_s[node], in_sprung);
        from.wind_rad = In::variable(cycle.wind_rad[node], in_wind);
    }
    const Number gas = In::variable(cycle.gas[node], In::gas);
    const StepAhead<Number> ahead = look_ahead<sprung>(drive, joint, from, gas);
    bool driving = false;
    const StepState<Number> to =
        advance<sprung>(drive, joint, from, In::variable(cycle.gas[node + 1], In::gas_after), ahead, driving);

    constexpr int motions = In::motions;
    Eigen::Matrix<double, In::padded, motions + 1> local;
    local.col(in_crank) = to.crank_rad_s.derivatives();
    local.col(in_starter) = to.starter_rad_s.derivatives();
    local.col(in_twist) = to.twist_rad.derivatives();
    local.col(in_load) = to.load.derivatives();
    if constexpr (sprung) {
        local.col(in_sprung) = to.sprung_rad_s.derivatives();
        local.col(in_wind) = to.wind_rad.derivatives();
    }
    local.col(motions) = ahead.step_s.derivatives();
    // Written out: Eigen's product of so few columns does not take two rows at a time.
    const auto move = [&](int q) {
        const auto by = [&](int input) { return local(input, q) * now.start.col(input); };
        if constexpr (sprung)
            now.end.col(q) = by(in_crank) + by(in_starter) + by(in_twist) + by(in_load) + by(in_sprung) +
                             by(in_wind) + by(In::gas) + by(In::gas_after);
        else
            now.end.col(q) =
                by(in_crank) + by(in_starter) + by(in_twist) + by(in_load) + by(In::gas) + by(In::gas_after);
        now.end.col(q).template head<In::drive_columns>() +=
            local.col(q).template segment<In::drive_columns>(In::drive);
    };
    // How long the step takes is known before the gas at its end, which leaks meanwhile.
    move(motions);
    leak(m, tables, cycle, node, now.end.col(motions).array() / ahead.step_s.value(), now.kept);
    gas_slope(m, tables, cycle, node + 1, now.kept, now.start.col(In::gas_after));
    for (int q = 0; q < motions; ++q) move(q);
    now.start.template leftCols<motions>() = now.end.template leftCols<motions>();
    now.start.col(In::gas) = now.start.col(In::gas_after);
}

template <bool sprung>
void linearise(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle, Seen seen,
               Tangent& out) {
    constexpr Eigen::Index motions = Inputs<sprung>::motions;
    const auto n = static_cast<Eigen::Index>(tables.size());
    const Eigen::Index columns = shared_columns + columns_per_cylinder * n;
    const auto drive = drive_of<sprung>(m);
    const Grid grid = tables.front().grid;
    const auto joint = joint_of<sprung>(drive, grid);
    Moved<sprung> now;
    now.start.setZero(columns + motions, Inputs<sprung>::drive);
    now.start.template bottomLeftCorner<motions, motions>().setIdentity();
    now.end.setZero(columns + motions, motions + 1);
    now.kept = kept_at_start(m, tables, cycle, columns + motions);
    gas_slope(m, tables, cycle, 0, now.kept, now.start.col(Inputs<sprung>::gas));

    // The last rows hold what the motion at node 0 does, until it is known what the columns do to that.
    out.seen.resize(columns + motions, grid.steps + 1);
    out.time.resize(columns + motions, grid.steps + 1);
    out.time.col(0).setZero();
    Eigen::ArrayXXd peak = Eigen::ArrayXXd::Zero(columns + motions, n);
    const int in_seen = seen == Seen::load ? in_load : in_crank;
    for (std::size_t node = 0;; ++node) {
        const auto at = static_cast<Eigen::Index>(node);
        out.seen.col(at) = now.start.col(in_seen);
        if (node > 0) out.time.col(at) = out.time.col(at - 1) + now.end.col(motions);
        peak_slope(tables, cycle, node, now.kept, peak);
        if (at == grid.steps) break;
        step<sprung>(m, drive, joint, tables, cycle, node, now);
    }

    // The motion at node 0 follows the motion at the end: solve for the periodic one.
    using Square = Eigen::Matrix<double, motions, motions>;
    const Square carried = now.start.template bottomLeftCorner<motions, motions>().transpose();
    const Square settling = (Square::Identity() - carried).inverse();
    out.settling = settling;
    out.motion = settling * now.start.topLeftCorner(columns, motions).transpose();
    for (Eigen::MatrixXd* rows : {&out.seen, &out.time})
        rows->topRows(columns).noalias() += out.motion.transpose() * rows->bottomRows<motions>();
    out.peak = (peak.topRows(columns).matrix() + out.motion.transpose() * peak.bottomRows<motions>().matrix())
                   .transpose();
}

}  // namespace

void tangent_of(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle, Seen seen,
                Tangent& out) {
    if (has_dual_mass(m))
        linearise<true>(m, tables, cycle, seen, out);
    else
        linearise<false>(m, tables, cycle, seen, out);
}

}  // namespace evenstroke::contribution
