#include "unknowns.hpp"

#include <algorithm>
#include <cmath>

namespace evenstroke::contribution {

namespace {

/// A quantity's middle and its spread: one standard deviation is a factor exp(spread).
struct Prior {
    double middle;
    double spread;
};

// Common practice, no published source, unless it says otherwise.
constexpr Prior stall_over_inrush{1.05, 0.1};  // the peak is cut by the first turning of the rotor
constexpr Prior stall_over_mean{3.0, 0.4};     // when no inrush was recorded
constexpr Prior slope_share{1.0, 0.1};         // of (stall - mean) / speed; the period decides
constexpr Prior time_constant_s{0.12, 0.8};    // inertia x loop resistance / constant squared
constexpr Prior drag_share{0.15, 0.7};         // starter alone, of the mean load
constexpr Prior overrun_s{0.3, 1.0};           // the clutch's own drag is slight
constexpr Prior lag_s{0.004, 0.5};             // inductance over resistance of a 12 V starter loop
constexpr Prior saturation{0.1, 1.5};          // near constant flux; series wound is 1 or more
constexpr Prior clutch_rad_s{350, 0.5};        // gears, nose and clutch give: some 30 to 120 Hz
constexpr Prior sprung_share{0.55, 0.5};       // second mass of a dual-mass flywheel, of crank and first mass
constexpr Prior spring_rad_s{75, 0.35};        // 8 to 17 Hz: below an idling engine's firing frequency
constexpr Prior intake{0.93, 0.1};             // of ambient: throttle shut or open, at cranking speed
constexpr Prior gas_scale_over_swing{1.0, 1.0};
constexpr Prior gas_scale_over_mean{0.6, 1.0};  // half a litre x ambient pressure is 50 N m at the crank
constexpr Prior friction_share{0.6, 1.0};       // engine friction of the mean load
constexpr Prior ratio_less_one{9.5, 0.25};      // petrol 8 to 12; a diesel lies two to three spreads up
constexpr Prior leak_per_s{0.05, 0.7};          // blow-by and wall heat of a sound cylinder
constexpr Prior valve_share{0.02, 1.0};  // 1 N m of half a litre; lobes, springs and their number differ
/// With more, the springs of one push while another's are pushed: what is left is less than the model's own
/// error, and an unknown more only makes the answer less sure. So it does with a speed.
constexpr std::size_t most_with_valve_springs = 3;
constexpr double viscous_middle = 0.5, viscous_spread = 0.5;
constexpr double charge_spread = 0.03, own_leak_spread = 0.5, own_ratio_spread = 0.03;
/// Degrees of freedom of the long-tailed prior: at 2 a fault ten spreads off costs no more than three
/// standard deviations of a normal prior would.
constexpr double tail_degrees = 2.0;
/// The zero of a clamp is known to a hundredth of the mean, that of a battery's sag to a tenth.
constexpr double clamp_zero_share = 0.01, battery_zero_share = 0.1;

double scaled(const Prior& prior, double z) {
    return prior.middle * std::exp(prior.spread * z);
}

}  // namespace

UnknownsMap::UnknownsMap(const FitData& fit_data, const EngineLayout& layout, const Supposed& of_the_engine)
    : data(&fit_data),
      supposed(of_the_engine),
      firing_deg(layout.firing_tdc_deg()),
      mean_load(fit_data.seen_is == Seen::speed ? 1.0 : fit_data.seen.mean()),
      swing(std::sqrt((fit_data.seen - fit_data.seen.mean()).square().mean())),
      mean_speed_rad_s(4 * pi / fit_data.period_s) {}

Eigen::Index UnknownsMap::size() const {
    return static_cast<Eigen::Index>(shared_unknowns) +
           static_cast<Eigen::Index>(unknowns_per_cylinder) * static_cast<Eigen::Index>(firing_deg.size());
}

EngineModel UnknownsMap::model(const Eigen::VectorXd& z) const {
    EngineModel m;
    m.mean_load = mean_load;
    m.mean_speed_rad_s = mean_speed_rad_s;
    m.stall = data->inrush ? *data->inrush * scaled(stall_over_inrush, z[at_stall])
                           : mean_load * scaled(stall_over_mean, z[at_stall]);
    m.stall = std::max(m.stall, 1.05 * mean_load);
    m.slope_per_rad_s = (m.stall - mean_load) / mean_speed_rad_s * scaled(slope_share, z[at_slope]);
    const double inertia = scaled(time_constant_s, z[at_time_constant]) * m.slope_per_rad_s;
    const double starter = 1 / (1 + std::exp(-z[at_starter_share]));
    m.starter_inertia = starter * inertia;
    m.crank_inertia = (1 - starter) * inertia;
    m.starter_drag = mean_load * scaled(drag_share, z[at_drag]);
    m.overrun_s = scaled(overrun_s, z[at_overrun]);
    m.viscous_share = viscous_middle + viscous_spread * z[at_viscous];
    m.electric_lag_s = scaled(lag_s, z[at_lag]);
    m.saturation = scaled(saturation, z[at_saturation]);
    m.clutch_rad_s = scaled(clutch_rad_s, z[at_clutch]);
    if (supposed.dual_mass) {  // the time constant is that of all masses
        const double share = scaled(sprung_share, z[at_sprung_share]);
        m.crank_inertia /= 1 + share;
        m.sprung_inertia = share * m.crank_inertia;
    }
    m.spring_rad_s = scaled(spring_rad_s, z[at_spring]);
    m.gas_scale = data->seen_is == Seen::speed ? mean_load * scaled(gas_scale_over_mean, z[at_gas_scale])
                                               : swing * scaled(gas_scale_over_swing, z[at_gas_scale]);
    if (data->seen_is == Seen::load && firing_deg.size() <= most_with_valve_springs)
        m.valve_share = scaled(valve_share, z[at_valves]);
    m.friction = mean_load * scaled(friction_share, z[at_friction]);
    m.cylinders.resize(firing_deg.size());
    for (std::size_t c = 0; c < firing_deg.size(); ++c) {
        const auto own = shared_unknowns + unknowns_per_cylinder * static_cast<Eigen::Index>(c);
        CylinderGas& gas = m.cylinders[c];
        gas.firing_deg = firing_deg[c] + supposed.offset_deg + data->offset_sd_deg * z[at_offset];
        gas.exhaust_shut = supposed.exhaust_shut == c;
        gas.intake_ratio = scaled(intake, z[at_intake]);
        gas.charge_ratio = gas.intake_ratio * std::exp(charge_spread * z[own + own_charge]);
        gas.leak_per_s = scaled(leak_per_s, z[at_leak]) * std::exp(own_leak_spread * z[own + own_leak]);
        gas.compression_ratio =
            1 + scaled(ratio_less_one, z[at_ratio]) * std::exp(own_ratio_spread * z[own + own_ratio]);
    }
    return m;
}

double charge_unknown(double share) {
    return std::log(share) / charge_spread;
}

double UnknownsMap::lift_sd() const {
    if (data->seen_is == Seen::speed) return 0;
    return (data->free_zero ? battery_zero_share : clamp_zero_share) * mean_load;
}

double UnknownsMap::lift(const Eigen::VectorXd& z) const {
    return lift_sd() * z[at_zero];
}

Eigen::MatrixXd UnknownsMap::chain(const Eigen::VectorXd& z) const {
    const auto cylinders = static_cast<Eigen::Index>(firing_deg.size());
    Eigen::MatrixXd chain = Eigen::MatrixXd::Zero(shared_columns + columns_per_cylinder * cylinders, size());
    const auto quantities = [&](const Eigen::VectorXd& at) {
        const EngineModel m = model(at);
        Eigen::VectorXd q(static_cast<Eigen::Index>(shared_columns));
        q << m.stall, m.slope_per_rad_s, m.electric_lag_s, m.crank_inertia, m.starter_inertia, m.starter_drag,
            m.overrun_s, m.friction, m.viscous_share, m.saturation, m.clutch_rad_s, m.sprung_inertia,
            m.spring_rad_s, m.gas_scale, m.valve_share, 0, 0;
        return q;
    };
    constexpr double difference = 1e-4;
    for (Eigen::Index k = 0; k < shared_unknowns; ++k) {
        Eigen::VectorXd up = z, down = z;
        up[k] += difference;
        down[k] -= difference;
        chain.col(k).head(shared_columns) = (quantities(up) - quantities(down)) / (2 * difference);
    }
    chain(col_intake, at_intake) = intake.spread;
    chain(col_offset_rad, at_offset) = data->offset_sd_deg * pi / 180;
    for (Eigen::Index c = 0; c < cylinders; ++c) {
        const Eigen::Index column = shared_columns + columns_per_cylinder * c;
        const Eigen::Index own = shared_unknowns + unknowns_per_cylinder * c;
        chain(column, at_leak) = leak_per_s.spread;
        chain(column, own + own_leak) = own_leak_spread;
        chain(column + 1, own + own_charge) = charge_spread;
        chain(column + 2, at_ratio) = ratio_less_one.spread;
        chain(column + 2, own + own_ratio) = own_ratio_spread;
    }
    return chain;
}

namespace {

/// Whether this own unknown stands on the side of a fault: less charge, more leak, less compression ratio.
/// No fault makes a cylinder compress better than its fellows, so the other side has no long tail.
bool faulty(Eigen::Index own, double z) {
    return own == own_leak ? z > 0 : z < 0;
}

}  // namespace

double UnknownsMap::prior_cost(const Eigen::VectorXd& z) {
    double cost = z.head(shared_unknowns).squaredNorm();
    for (Eigen::Index k = shared_unknowns; k < z.size(); ++k)
        cost += faulty((k - shared_unknowns) % unknowns_per_cylinder, z[k])
                    ? tail_degrees * std::log1p(z[k] * z[k] / tail_degrees)
                    : z[k] * z[k];
    return cost;
}

Eigen::VectorXd UnknownsMap::prior_weight(const Eigen::VectorXd& z) {
    Eigen::VectorXd weight = Eigen::VectorXd::Ones(z.size());
    for (Eigen::Index k = shared_unknowns; k < z.size(); ++k)
        if (faulty((k - shared_unknowns) % unknowns_per_cylinder, z[k]))
            weight[k] = 1 / (1 + z[k] * z[k] / tail_degrees);
    return weight;
}

}  // namespace evenstroke::contribution
