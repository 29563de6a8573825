#include "gas_fit.hpp"

#include <algorithm>
#include <cmath>

#include "signal/linear.hpp"

namespace evenstroke::pressure {

namespace {

constexpr double first_damping = 1, least_damping = 1e-6, most_damping = 1e8;
constexpr double difference = 1e-3;  ///< step of the numeric derivative, in prior sds
constexpr double longest_move = 2;   ///< in prior sds
constexpr double least_gain_share = 1e-5;

/// Priors of what is not set from outside; logarithmic where a unit stands in the comment's brackets.
constexpr double usual_leak_share = 1.2e-3;  ///< [m²/m³]: 0.6 mm² in a cylinder of half a litre
constexpr double leak_sd = 1.5;
/// Woschni's correlation at 1 MPa, 500 K, 0.57 m/s mean piston speed and 86 mm bore, times what slow, cold
/// engines show above it (from memory) [W/(m² K)].
constexpr double usual_heat = 100;
constexpr double heat_sd = 0.4;
constexpr double usual_gamma = 1.40;
constexpr double gamma_sd = 0.0015;
constexpr double ratio_sd = 0.35;  ///< []
constexpr double tdc_sd_rad = 0.1;
constexpr double speed_sd = 0.3, start_sd = 0.1;
constexpr double slope_sd = 0.006;
/// Crank, flywheel and starter, from memory of engines of this size; each is known to a factor of two at
/// best.
constexpr double usual_inertia = 400;
constexpr double inertia_sd = 0.8;  ///< [kg m² per m³ swept in one cylinder]
constexpr double usual_rotor = 0.7;
constexpr double rotor_sd = 0.8;  ///< []
constexpr double usual_friction = 5e4;
constexpr double friction_sd = 0.9;  ///< [N m per m³ swept in one cylinder]
/// [] A starter in steady cranking gives friction and what all cylinders' gas loses in a cycle.
constexpr double usual_drive = 1.4;
constexpr double drive_sd = 0.2;
/// [] A motor's line between standstill and running free; cranking takes a quarter to a third of the current
/// that it draws stalled.
constexpr double usual_pull = 2.3, pull_sd = 0.35;
constexpr double usual_lag = 0.1, lag_sd = 0.15;
constexpr double swing_sd = 0.5;  ///< of one spline's coefficient
constexpr double bend_sd = 0.03;  ///< of a second difference of neighbouring coefficients
/// Of a coefficient less its mirror image: neighbours stand evenly on either side, and what their gas does
/// before this TDC it undoes after.
constexpr double tilt_sd = 0.1;
/// ln of the mean speed in the table over that in the rest of the cycle.
constexpr double window_sd = 0.08;

/// The usual heat transfer coefficient of this bore and piston speed: Woschni's other two exponents (from
/// memory).
double heat_for(const FitSetup& setup) {
    const double piston_m_s = setup.geometry.stroke_m * setup.mean_speed_rad_s / pi;
    return usual_heat * std::pow(piston_m_s / 0.57, 0.8) * std::pow(setup.geometry.bore_m / 0.086, -0.2);
}

struct Problem {
    const FitSetup& setup;
    const std::vector<PulseData>& data;
    StrokeTable table;
    std::vector<PulseState> centre;  ///< where the own unknowns are 0
    bool own_only;
    CylinderState fixed;
    double fixed_offset;

    [[nodiscard]] Eigen::Index size() const {
        return shared() + static_cast<Eigen::Index>(data.size()) * own_count;
    }
    [[nodiscard]] Eigen::Index shared() const {
        return shared_count + static_cast<Eigen::Index>(table.splines);
    }
    [[nodiscard]] CylinderState cylinder(const Eigen::VectorXd& z) const {
        if (own_only) return fixed;
        CylinderState c;
        c.leak_m2 = usual_leak_share * table.swept_m3 * std::exp(leak_sd * z[place(Shared::leak)]);
        c.heat_w_m2k = heat_for(setup) * std::exp(heat_sd * z[place(Shared::heat)]);
        c.gamma = usual_gamma + gamma_sd * z[place(Shared::gamma)];
        c.ambient_pa = setup.ambient_pa.mean + setup.ambient_pa.sd * z[place(Shared::ambient)];
        c.intake_pa = std::max(least_intake_pa, setup.intake_pa - offset_pa(z));
        c.compression_ratio =
            setup.ratio_known ? setup.geometry.compression_ratio
                              : 1 + (setup.usual_ratio - 1) * std::exp(ratio_sd * z[place(Shared::ratio)]);
        c.inertia_kg_m2 = usual_inertia * table.swept_m3 * std::exp(inertia_sd * z[place(Shared::inertia)]);
        c.rotor_share = usual_rotor * std::exp(rotor_sd * z[place(Shared::rotor)]);
        c.friction_nm = usual_friction * table.swept_m3 * std::exp(friction_sd * z[place(Shared::friction)]);
        c.drive_share = usual_drive * std::exp(drive_sd * z[place(Shared::drive)]);
        c.drive_slope = usual_pull * std::exp(pull_sd * z[place(Shared::pull)]);
        c.rotor_lag = usual_lag + lag_sd * z[place(Shared::lag)];
        c.swing.resize(table.splines);
        for (std::size_t j = 0; j < table.splines; ++j)
            c.swing[j] = swing_sd * z[shared_count + static_cast<Eigen::Index>(j)];
        return c;
    }
    [[nodiscard]] double offset_pa(const Eigen::VectorXd& z) const {
        return own_only ? fixed_offset : setup.offset_pa.mean + setup.offset_pa.sd * z[place(Shared::offset)];
    }
    [[nodiscard]] PulseState pulse(const Eigen::VectorXd& z, std::size_t k) const {
        const auto at = shared() + static_cast<Eigen::Index>(k) * own_count;
        const PulseState& c = centre[k];
        PulseState p;
        p.tdc_s = c.tdc_s + tdc_sd_rad / c.speed_rad_s * z[at + place(Own::tdc)];
        p.speed_rad_s = c.speed_rad_s * std::exp(speed_sd * z[at + place(Own::speed)]);
        p.mean_speed_rad_s = 4 * pi / data[k].period_s;
        p.slope = slope_sd * z[at + place(Own::slope)];
        p.start_pa = c.start_pa * std::exp(start_sd * z[at + place(Own::start)]);
        return p;
    }
};

/// Residuals of one pulse's curve, each over its expected size; the last is that of the speed.
void residuals(const Problem& problem, std::size_t k, double offset_pa, const GasCurve& curve,
               Eigen::Ref<Eigen::VectorXd> r) {
    const PulseData& d = problem.data[k];
    std::size_t after = 0;
    for (std::size_t i = 0; i < d.time_s.size(); ++i)
        r[static_cast<Eigen::Index>(i)] =
            (d.reading_pa[i] - offset_pa - curve.next(d.time_s[i], after)) / d.sd_pa[i];
    const double inside_s = curve.time_s.back() - curve.time_s.front();
    const double range = static_cast<double>(problem.table.steps()) * problem.table.step_rad;
    const double rest = (4 * pi - range) / std::max(d.period_s - inside_s, 0.1 * d.period_s);
    const double share = 1 / std::sqrt(static_cast<double>(problem.data.size()));
    r[r.size() - 1] = share * std::log(range / inside_s / rest) / window_sd;
}

class Fit {
  public:
    explicit Fit(Problem problem) : p_(std::move(problem)) {
        for (const auto& d : p_.data) points_ += static_cast<double>(d.time_s.size());
    }

    FitResult run_from(Eigen::VectorXd z, int most_steps) {
        double cost = evaluate(z);
        double damping = first_damping;
        FitResult out;
        out.offset_scale_pa = p_.setup.offset_pa.sd;
        for (; out.steps < most_steps; ++out.steps) {
            linearise(z);
            const double before = cost;
            if (!improve(z, cost, damping)) break;
            if (before - cost < least_gain_share * cost) break;
        }
        linearise(z);
        out.cost = evaluate(z);
        out.cylinder = p_.cylinder(z);
        out.offset_pa = p_.offset_pa(z);
        for (std::size_t k = 0; k < p_.data.size(); ++k) out.pulses.push_back(p_.pulse(z, k));
        out.curves = curves_;
        out.misfit = misfit_;
        for (const Shared one :
             {Shared::offset, Shared::heat, Shared::gamma, Shared::ambient, Shared::inertia, Shared::rotor,
              Shared::friction, Shared::drive, Shared::pull, Shared::lag})
            out.strain_sd = std::max(out.strain_sd, std::abs(z[place(one)]));
        out.covariance = signal::inverse_symmetric(normal_);
        out.covariance *= std::max(1.0, misfit_);
        return out;
    }

  private:
    /// Sum of squares with the priors; keeps curves and residuals.
    double evaluate(const Eigen::VectorXd& z) {
        const CylinderState c = p_.cylinder(z);
        const double offset_pa = p_.offset_pa(z);
        curves_.resize(p_.data.size());
        residual_.resize(p_.data.size());
        double sum = 0;
        for (std::size_t k = 0; k < p_.data.size(); ++k) {
            residual_[k].resize(static_cast<Eigen::Index>(p_.data[k].time_s.size()) + 1);
            run(p_.table, c, p_.pulse(z, k), curves_[k]);
            residuals(p_, k, offset_pa, curves_[k], residual_[k]);
            sum += residual_[k].squaredNorm();
        }
        misfit_ = sum / std::max(1.0, points_);
        sum += z.squaredNorm();
        if (!p_.own_only) sum += smooth(z, nullptr, nullptr);
        const double r = plateau(z);
        return sum + r * r;
    }
    [[nodiscard]] double plateau(const Eigen::VectorXd& z) const {
        if (!p_.setup.plateau_pa || p_.own_only) return 0;
        return (p_.setup.plateau_pa->mean - p_.offset_pa(z) - p_.cylinder(z).ambient_pa) /
               p_.setup.plateau_pa->sd;
    }
    /// Sum of squares of the swing's second differences and of its lack of symmetry; adds to the normal
    /// equations.
    double smooth(const Eigen::VectorXd& z, Eigen::MatrixXd* normal, Eigen::VectorXd* gradient) const {
        double sum = 0;
        const auto add = [&](std::initializer_list<std::pair<Eigen::Index, double>> terms) {
            double r = 0;
            for (const auto& [i, w] : terms) r += w * z[i];
            sum += r * r;
            if (normal == nullptr) return;
            for (const auto& [i, w] : terms) {
                (*gradient)[i] -= w * r;
                for (const auto& [j, u] : terms) (*normal)(i, j) += w * u;
            }
        };
        const Eigen::Index first = shared_count, last = p_.shared() - 1;
        const double bend = swing_sd / bend_sd, tilt = swing_sd / tilt_sd;
        for (Eigen::Index i = first + 1; i < last; ++i) add({{i - 1, bend}, {i, -2 * bend}, {i + 1, bend}});
        for (Eigen::Index i = first, j = last; i < j; ++i, --j) add({{i, -tilt}, {j, tilt}});
        return sum;
    }
    void linearise(const Eigen::VectorXd& z) {
        const Eigen::Index n = p_.size();
        const Eigen::Index shared = p_.shared();
        normal_ = Eigen::MatrixXd::Identity(n, n);
        gradient_ = -z;
        GasCurve scratch;
        for (std::size_t k = 0; k < p_.data.size(); ++k) {
            const auto rows = residual_[k].size();
            Eigen::MatrixXd jacobian(rows, shared + own_count);
            const auto own = shared + static_cast<Eigen::Index>(k) * own_count;
            for (Eigen::Index j = 0; j < shared + own_count; ++j) {
                if (j < shared && (p_.own_only || (j == place(Shared::ratio) && p_.setup.ratio_known))) {
                    jacobian.col(j).setZero();
                    continue;
                }
                Eigen::VectorXd moved = z;
                moved[j < shared ? j : own + j - shared] += difference;
                Eigen::VectorXd r(rows);
                if (j >= shared_count && j < shared)
                    rerun(p_.table, p_.cylinder(moved), p_.pulse(moved, k), curves_[k],
                          p_.table.spline_starts[static_cast<std::size_t>(j - shared_count)], scratch);
                else
                    run(p_.table, p_.cylinder(moved), p_.pulse(moved, k), scratch);
                residuals(p_, k, p_.offset_pa(moved), scratch, r);
                jacobian.col(j) = (r - residual_[k]) / difference;
            }
            const Eigen::MatrixXd jj = jacobian.transpose() * jacobian;
            const Eigen::VectorXd jr = jacobian.transpose() * residual_[k];
            normal_.topLeftCorner(shared, shared) += jj.topLeftCorner(shared, shared);
            normal_.block(own, own, own_count, own_count) += jj.bottomRightCorner(own_count, own_count);
            normal_.block(0, own, shared, own_count) += jj.topRightCorner(shared, own_count);
            normal_.block(own, 0, own_count, shared) += jj.bottomLeftCorner(own_count, shared);
            gradient_.head(shared) -= jr.head(shared);
            gradient_.segment(own, own_count) -= jr.tail(own_count);
        }
        if (!p_.own_only) smooth(z, &normal_, &gradient_);
        const double r = plateau(z);
        if (p_.setup.plateau_pa && !p_.own_only) {
            Eigen::VectorXd j = Eigen::VectorXd::Zero(n);
            j[place(Shared::offset)] = -p_.setup.offset_pa.sd / p_.setup.plateau_pa->sd;
            j[place(Shared::ambient)] = -p_.setup.ambient_pa.sd / p_.setup.plateau_pa->sd;
            normal_ += j * j.transpose();
            gradient_ -= j * r;
        }
    }
    bool improve(Eigen::VectorXd& z, double& cost, double& damping) {
        while (damping < most_damping) {
            Eigen::MatrixXd damped = normal_;
            damped.diagonal() *= 1 + damping;
            Eigen::VectorXd move = signal::solve_symmetric(damped, gradient_);
            const double longest = move.cwiseAbs().maxCoeff();
            if (longest > longest_move) move *= longest_move / longest;
            const Eigen::VectorXd next = z + move;
            const double trial = evaluate(next);
            if (trial < cost) {
                z = next;
                cost = trial;
                damping = std::max(least_damping, damping / 8);
                return true;
            }
            damping *= 6;
        }
        (void)evaluate(z);
        return false;
    }

    Problem p_;
    double points_ = 0;
    std::vector<GasCurve> curves_;
    std::vector<Eigen::VectorXd> residual_;
    Eigen::MatrixXd normal_;
    Eigen::VectorXd gradient_;
    double misfit_ = 0;
};

}  // namespace

FitResult fit(const FitSetup& setup, const std::vector<PulseData>& data, const CylinderState& start,
              double offset_pa, const std::vector<PulseState>& pulses, int most_steps, bool own_only) {
    Problem problem{setup,
                    data,
                    stroke_table(setup.geometry, setup.first_deg * pi / 180, setup.last_deg * pi / 180),
                    pulses,
                    own_only,
                    start,
                    offset_pa};
    Eigen::VectorXd z = Eigen::VectorXd::Zero(problem.size());
    z[place(Shared::offset)] = (offset_pa - setup.offset_pa.mean) / setup.offset_pa.sd;
    z[place(Shared::leak)] = std::log(start.leak_m2 / (usual_leak_share * problem.table.swept_m3)) / leak_sd;
    z[place(Shared::heat)] = std::log(start.heat_w_m2k / heat_for(setup)) / heat_sd;
    z[place(Shared::gamma)] = (start.gamma - usual_gamma) / gamma_sd;
    for (std::size_t j = 0; j < start.swing.size() && j < problem.table.splines; ++j)
        z[shared_count + static_cast<Eigen::Index>(j)] = start.swing[j] / swing_sd;
    z[place(Shared::inertia)] =
        std::log(start.inertia_kg_m2 / (usual_inertia * problem.table.swept_m3)) / inertia_sd;
    z[place(Shared::rotor)] = std::log(start.rotor_share / usual_rotor) / rotor_sd;
    z[place(Shared::friction)] =
        std::log(start.friction_nm / (usual_friction * problem.table.swept_m3)) / friction_sd;
    z[place(Shared::drive)] = std::log(start.drive_share / usual_drive) / drive_sd;
    z[place(Shared::pull)] = std::log(start.drive_slope / usual_pull) / pull_sd;
    z[place(Shared::lag)] = (start.rotor_lag - usual_lag) / lag_sd;
    z[place(Shared::ambient)] = (start.ambient_pa - setup.ambient_pa.mean) / setup.ambient_pa.sd;
    z[place(Shared::ratio)] = std::log((start.compression_ratio - 1) / (setup.usual_ratio - 1)) / ratio_sd;
    if (setup.ratio_known || own_only) z[place(Shared::ratio)] = 0;
    for (std::size_t k = 0; k < pulses.size(); ++k) {
        const auto at = problem.shared() + static_cast<Eigen::Index>(k) * own_count;
        z[at + place(Own::slope)] = pulses[k].slope / slope_sd;
    }
    Fit work(std::move(problem));
    return work.run_from(std::move(z), most_steps);
}

double shared_sd(const FitResult& result, Shared which) {
    const double sd = std::sqrt(std::max(0.0, result.covariance(place(which), place(which))));
    switch (which) {
        case Shared::offset:
            return sd * result.offset_scale_pa;
        case Shared::leak:
            return sd * leak_sd;
        case Shared::heat:
            return sd * heat_sd;
        case Shared::ratio:
            return sd * ratio_sd;
        default:
            return sd;
    }
}

double tdc_sd_s(const FitResult& result, std::size_t pulse) {
    const Eigen::Index from_end = static_cast<Eigen::Index>(result.pulses.size() - pulse) * own_count;
    const Eigen::Index at = result.covariance.rows() - from_end + place(Own::tdc);
    return std::sqrt(std::max(0.0, result.covariance(at, at))) * tdc_sd_rad /
           result.pulses[pulse].speed_rad_s;
}

}  // namespace evenstroke::pressure
