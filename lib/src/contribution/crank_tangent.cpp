#include "crank_tangent.hpp"

#include <Eigen/LU>
#include <unsupported/Eigen/AutoDiff>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

/// What one step depends on: the motion and the gas torque at its start, that at its end, the drive.
enum Input {
    in_crank,
    in_starter,
    in_twist,
    in_load,
    in_gas,
    in_gas_after,
    in_drive,
    inputs = in_drive + static_cast<int>(col_gas_scale)
};
constexpr Eigen::Index motions = 4;

/// Padded to an even length, so that two at a time fit the processor's registers.
constexpr int padded_inputs = inputs + inputs % 2;
using Derivative = Eigen::Matrix<double, padded_inputs, 1>;
using Number = Eigen::AutoDiffScalar<Derivative>;

Number variable(double value, int input) {
    return {value, Derivative::Unit(input)};
}

/// The drive, each quantity its own variable, in the order of the columns.
Drive<Number> drive_of(const EngineModel& m) {
    const auto own = [](double value, Column column) {
        return variable(value, in_drive + static_cast<int>(column));
    };
    return {.stall = own(m.stall, col_stall),
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
            .mean_speed_rad_s = m.mean_speed_rad_s,
            .mean_load = m.mean_load};
}

/// Derivatives at one node, a row a column of the tangent and a column a quantity, so that what a quantity
/// does lies side by side; the last four rows are the motion at node 0.
struct Moved {
    /// Crank, starter, twist, load; gas torque at this node, gas torque at the next.
    Eigen::Matrix<double, Eigen::Dynamic, in_drive> start;
    Eigen::Matrix<double, Eigen::Dynamic, motions + 1>
        end;               ///< crank, starter, twist, load; duration of the step
    Eigen::ArrayXXd kept;  ///< by cylinder: ln of the charge that the leak left, through the dwell alone
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
        const double turn = m.gas_scale * tables[c].slope[at];
        if (tables[c].open[at] < 0) slope[col_intake] += m.cylinders[c].intake_ratio * turn;
        if (absolute == 0) continue;
        const double push = absolute * (1 - tables[c].open[at]) * turn;
        const auto cylinder = static_cast<Eigen::Index>(c);
        slope += push * kept.col(cylinder).matrix();
        const auto col = shared_columns + columns_per_cylinder * cylinder;
        slope[col] += push * cycle.leak_slope[node * n + c];
        slope[col + 1] += push;
        slope[col_intake] += push;
        slope[col + 2] += push * (tables[c].ratio_slope[at] + cycle.geometry_slope[node * n + c]);
    }
    slope[col_gas_scale] += cycle.gas[node] / m.gas_scale;
    const std::size_t above = node + 1 <= steps ? node + 1 : 1;
    const std::size_t below = node > 0 ? node - 1 : steps - 1;
    slope[col_offset_rad] -= (cycle.gas[above] - cycle.gas[below]) / (2 * grid.step_rad());
}

/// A faster crank gives the leaks less time.
void dwell(const ModelCycle& cycle, double step_rad, std::size_t cylinders, std::size_t node, Moved& now) {
    const double speed = step_rad / (cycle.time_s[node + 1] - cycle.time_s[node]);
    for (std::size_t c = 0; c < cylinders; ++c) {
        const std::size_t before = node * cylinders + c;
        const std::size_t after = before + cylinders;
        const auto col = static_cast<Eigen::Index>(c);
        if (cycle.absolute[before] == 0 || cycle.absolute[after] == 0) {
            if (cycle.absolute[before] != 0) now.kept.col(col).setZero();
            continue;
        }
        if (cycle.leak_slope[after] == 0) {  // ambient pressure again: nothing of what came before is left
            now.kept.col(col).setZero();
            continue;
        }
        const double lost = cycle.leak_slope[before] - cycle.leak_slope[after];
        now.kept.col(col) += lost / speed * now.start.col(in_crank).array();
    }
}

void step(const EngineModel& m, const Drive<Number>& drive, const Joint<Number>& joint,
          const std::vector<GasTable>& tables, const ModelCycle& cycle, std::size_t node, Moved& now) {
    const StepState<Number> from{.crank_rad_s = variable(cycle.speed_rad_s[node], in_crank),
                                 .starter_rad_s = variable(cycle.starter_rad_s[node], in_starter),
                                 .twist_rad = variable(cycle.twist_rad[node], in_twist),
                                 .load = variable(cycle.load[node], in_load)};
    const Number gas = variable(cycle.gas[node], in_gas);
    const StepAhead<Number> ahead = look_ahead(drive, joint, from, gas);
    bool driving = false;
    const StepState<Number> to =
        advance(drive, joint, from, variable(cycle.gas[node + 1], in_gas_after), ahead, driving);

    dwell(cycle, joint.step_rad, tables.size(), node, now);
    gas_slope(m, tables, cycle, node + 1, now.kept, now.start.col(in_gas_after));
    Eigen::Matrix<double, padded_inputs, motions + 1> local;
    local << to.crank_rad_s.derivatives(), to.starter_rad_s.derivatives(), to.twist_rad.derivatives(),
        to.load.derivatives(), ahead.step_s.derivatives();
    // Written out: Eigen's product of so few columns does not take two rows at a time.
    for (int q = 0; q <= motions; ++q)
        now.end.col(q) =
            local(in_crank, q) * now.start.col(in_crank) + local(in_starter, q) * now.start.col(in_starter) +
            local(in_twist, q) * now.start.col(in_twist) + local(in_load, q) * now.start.col(in_load) +
            local(in_gas, q) * now.start.col(in_gas) + local(in_gas_after, q) * now.start.col(in_gas_after);
    now.end.topRows<static_cast<int>(col_gas_scale)>() +=
        local.middleRows<static_cast<int>(col_gas_scale)>(in_drive);
    now.start.leftCols<motions>() = now.end.leftCols<motions>();
    now.start.col(in_gas) = now.start.col(in_gas_after);
}

}  // namespace

void tangent_of(const EngineModel& m, const std::vector<GasTable>& tables, const ModelCycle& cycle, Seen seen,
                Tangent& out) {
    const auto n = static_cast<Eigen::Index>(tables.size());
    const Eigen::Index columns = shared_columns + columns_per_cylinder * n;
    const Drive<Number> drive = drive_of(m);
    const Grid grid = tables.front().grid;
    const Joint<Number> joint = joint_of(drive, grid);
    Moved now;
    now.start.setZero(columns + motions, in_drive);
    now.start.bottomLeftCorner<motions, motions>().setIdentity();
    now.end.setZero(columns + motions, motions + 1);
    now.kept = Eigen::ArrayXXd::Zero(columns + motions, n);
    gas_slope(m, tables, cycle, 0, now.kept, now.start.col(in_gas));

    // The last rows hold what the motion at node 0 does, until it is known what the columns do to that.
    out.seen.resize(columns + motions, grid.steps + 1);
    out.time.resize(columns + motions, grid.steps + 1);
    out.time.col(0).setZero();
    const int in_seen = seen == Seen::load ? in_load : in_crank;
    for (std::size_t node = 0;; ++node) {
        const auto at = static_cast<Eigen::Index>(node);
        out.seen.col(at) = now.start.col(in_seen);
        if (node > 0) out.time.col(at) = out.time.col(at - 1) + now.end.col(motions);
        if (at == grid.steps) break;
        step(m, drive, joint, tables, cycle, node, now);
    }

    // The motion at node 0 follows the motion at the end: solve for the periodic one.
    out.settling =
        (Eigen::Matrix4d::Identity() - now.start.bottomLeftCorner<motions, motions>().transpose()).inverse();
    out.motion = out.settling * now.start.topLeftCorner(columns, motions).transpose();
    for (Eigen::MatrixXd* rows : {&out.seen, &out.time})
        rows->topRows(columns).noalias() += out.motion.transpose() * rows->bottomRows<motions>();
    out.peak = Eigen::ArrayXXd::Zero(n, columns);
    for (Eigen::Index c = 0; c < n; ++c) {
        const auto node = static_cast<std::size_t>(cycle.peak_node[static_cast<std::size_t>(c)]);
        const std::size_t cell = node * tables.size() + static_cast<std::size_t>(c);
        const Eigen::Index col = shared_columns + columns_per_cylinder * c;
        out.peak(c, col) = cycle.absolute[cell] * cycle.leak_slope[cell];
        out.peak(c, col + 1) = out.peak(c, col_intake) = cycle.absolute[cell];
        out.peak(c, col + 2) = cycle.absolute[cell] *
                               (tables[static_cast<std::size_t>(c)]
                                    .ratio_slope[grid.wrapped(cycle.peak_node[static_cast<std::size_t>(c)])] +
                                cycle.geometry_slope[cell]);
    }
}

}  // namespace evenstroke::contribution
