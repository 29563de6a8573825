// One step of the crank, the clutch, the starter and its current, written once: for numbers, and for numbers
// that carry derivatives.
//
// Two rotating masses, joined by a clutch that pulls one way only and gives a little: while the starter
// drives, both are a spring and damper apart; when the crank runs ahead, they are free but for a slight drag.
// A dual-mass flywheel hangs a third mass on the crank, by springs that pull both ways. With one of a single
// piece (`sprung` false) its motion means nothing.
#pragma once

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"
#include "gas_torque.hpp"

namespace evenstroke::contribution {

/// The crank never runs slower than this share of its mean in the model, so that a stall takes finite time.
inline constexpr double slowest_share = 0.03;
/// Damping of the clutch's spring, of the critical (common practice, no published source: 0.1 to 0.4).
inline constexpr double clutch_damping_ratio = 0.2;
/// Damping of a dual-mass flywheel's springs, of the critical (common practice, no published source: slight).
inline constexpr double flywheel_damping_ratio = 0.15;

/// Quantities of the drive; I is the trace's unit, which also counts torque.
template <class T>
struct Drive {
    T stall;            ///< I at standstill: supply over loop resistance
    T slope_per_rad_s;  ///< I lost per rad/s of speed (back-EMF over loop resistance)
    T electric_lag_s;   ///< L/R of the loop and the clamp's own lag
    T crank_inertia;    ///< I per rad/s²
    T starter_inertia;  ///< I per rad/s², reflected to the crank
    T starter_drag;     ///< I to turn the starter alone
    T overrun_s;        ///< time in which the overrunning clutch's own drag evens the speeds
    T friction;         ///< I at mean speed
    T viscous_share;    ///< of the friction, that grows with speed
    T saturation;       ///< 0: constant flux; large: flux in proportion to current (series wound)
    T clutch_rad_s;     ///< angular frequency of the two masses on the clutch's spring
    T sprung_inertia;   ///< I per rad/s², of a dual-mass flywheel's second mass; 0: it is of one piece
    T spring_rad_s;     ///< angular frequency of that mass while the crank stands still
    double mean_speed_rad_s = 21;
    double mean_load = 180;  ///< I at which the flux is its mean
};

/// What carries from step to step.
template <class T>
struct StepState {
    T crank_rad_s;
    T starter_rad_s;
    T twist_rad;     ///< of the clutch's spring; 0 when it overruns
    T load;          ///< I
    T sprung_rad_s;  ///< of the flywheel's second mass
    T wind_rad;      ///< of the springs before it: angle of the crank less its own
};

/// Flux relative to the flux at the mean load.
template <class T>
T flux(const Drive<T>& drive, const T& load) {
    if (!(drive.saturation > 0.0)) return T(1.0);
    T x = load / drive.mean_load;
    if (x < 0.02) x = T(0.02);
    return (1.0 + drive.saturation) * x / (x + drive.saturation);
}

/// Friction of the engine, I.
template <class T>
T friction(const Drive<T>& drive, const T& speed_rad_s) {
    return drive.friction * (1.0 + drive.viscous_share * (speed_rad_s / drive.mean_speed_rad_s - 1.0));
}

/// What a step needs of the drive and no step changes.
template <class T>
struct Joint {
    T per_crank;          ///< 1 / crank inertia
    T per_starter;        ///< 1 / starter inertia
    T mobility;           ///< both together: of the slip between the masses
    T stiffness;          ///< of the clutch's spring, I per rad
    T damping;            ///< I per rad/s
    T even_per_s;         ///< rate at which the overrunning clutch's drag evens the speeds
    T drag;               ///< of the overrunning clutch, I per rad/s
    T per_sprung;         ///< 1 / inertia of the flywheel's second mass
    T spring_stiffness;   ///< before that mass, I per rad
    T spring_damping;     ///< I per rad/s
    double step_rad = 0;  ///< of the crank, between two nodes
};

template <bool sprung, class T>
Joint<T> joint_of(const Drive<T>& drive, Grid grid) {
    Joint<T> joint;
    joint.step_rad = grid.step_rad();
    joint.per_crank = 1.0 / drive.crank_inertia;
    joint.per_starter = 1.0 / drive.starter_inertia;
    joint.mobility = joint.per_starter + joint.per_crank;
    joint.stiffness = drive.clutch_rad_s * drive.clutch_rad_s / joint.mobility;
    joint.damping = 2.0 * clutch_damping_ratio * drive.clutch_rad_s / joint.mobility;
    joint.drag = drive.starter_inertia / drive.overrun_s;
    joint.even_per_s = joint.drag * joint.mobility;
    if constexpr (sprung) {
        joint.per_sprung = 1.0 / drive.sprung_inertia;
        joint.spring_stiffness = drive.spring_rad_s * drive.spring_rad_s * drive.sprung_inertia;
        joint.spring_damping = 2.0 * flywheel_damping_ratio * drive.spring_rad_s * drive.sprung_inertia;
    }
    return joint;
}

/// The step as far as it is known before the gas at its end is.
template <class T>
struct StepAhead {
    T flux;         ///< at the start
    T push;         ///< of the starter at the start, I
    T brake;        ///< on the crank at the start, I
    T crank_rad_s;  ///< at the end
    T starter_mid_rad_s;
    T step_s;
    T spring_pull;   ///< of the flywheel's springs against the crank, mean of the step, I
    T sprung_rad_s;  ///< at the end
    T wind_rad;      ///< at the end
};

namespace step_detail {

/// The mean of the clutch's torque over a step, and what it leaves.
template <class T>
struct Coupled {
    T crank_rad_s, starter_rad_s, twist_rad;
    bool driving;
};

/// The two masses over `step_s` under constant torques: trapezoid rule, solved for the slip between them.
template <class T>
Coupled<T> couple(const Joint<T>& joint, const StepState<T>& from, const T& brake, const T& push,
                  const T& step_s) {
    const T slip = from.starter_rad_s - from.crank_rad_s;
    const T apart = push * joint.per_starter + brake * joint.per_crank;
    if (from.twist_rad > 0.0 || slip >= 0.0) {
        const T give = 0.5 * step_s * joint.stiffness + joint.damping;
        const T spring = joint.stiffness * from.twist_rad;
        const T mean_slip = (2.0 * slip + step_s * (apart - joint.mobility * spring)) /
                            (2.0 + step_s * joint.mobility * give);
        const T pull = spring + give * mean_slip;
        const T twist = from.twist_rad + step_s * mean_slip;
        if (pull > 0.0 && twist > 0.0)
            return {from.crank_rad_s + step_s * (pull - brake) * joint.per_crank,
                    from.starter_rad_s + step_s * (push - pull) * joint.per_starter, twist, true};
    }
    // The clutch overruns; its drag, implicit in the difference of the speeds.
    const T ahead = -slip;
    const T half_even = 0.5 * step_s * joint.even_per_s;
    T mean_ahead = 0.5 * (ahead + (ahead * (1.0 - half_even) - step_s * apart) / (1.0 + half_even));
    if (mean_ahead < 0.0) mean_ahead = T(0.0);
    const T pull = joint.drag * mean_ahead;
    const T crank = from.crank_rad_s - step_s * (brake + pull) * joint.per_crank;
    const T starter = from.starter_rad_s + step_s * (push + pull) * joint.per_starter;
    const T left = starter - crank;
    T twist = T(0.0);
    if (left > 0.0 && ahead > 0.0)
        twist = 0.5 * step_s * left * left / (left + ahead);  // caught up on the way
    return {crank, starter, twist, false};
}

/// The flywheel's second mass over the step, while the crank goes on to `ahead.crank_rad_s`: trapezoid rule,
/// solved for the slip between them.
template <class T>
void follow(const Joint<T>& joint, const StepState<T>& from, StepAhead<T>& ahead) {
    const T slip = from.crank_rad_s - from.sprung_rad_s;
    const T give = 0.5 * ahead.step_s * joint.spring_stiffness + joint.spring_damping;
    const T spring = joint.spring_stiffness * from.wind_rad;
    const T per_pull = ahead.step_s * joint.per_sprung;
    const T mean_slip =
        (slip + ahead.crank_rad_s - from.sprung_rad_s - per_pull * spring) / (2.0 + per_pull * give);
    ahead.spring_pull = spring + give * mean_slip;
    ahead.sprung_rad_s = from.sprung_rad_s + per_pull * ahead.spring_pull;
    ahead.wind_rad = from.wind_rad + ahead.step_s * mean_slip;
}

}  // namespace step_detail

/// Foresees the step from `from`, with the gas torque `gas` at its start.
template <bool sprung, class T>
StepAhead<T> look_ahead(const Drive<T>& drive, const Joint<T>& joint, const StepState<T>& from,
                        const T& gas) {
    const double slowest = slowest_share * drive.mean_speed_rad_s;
    const auto at_least = [&](T speed) { return speed < slowest ? T(slowest) : speed; };
    StepAhead<T> out{};
    out.flux = flux(drive, from.load);
    out.push = from.load * out.flux - drive.starter_drag;
    out.brake = friction(drive, from.crank_rad_s) - gas;
    const T speed = at_least(from.crank_rad_s);
    const T rough_s = joint.step_rad / speed;
    T brake = out.brake;
    if constexpr (sprung)
        brake += joint.spring_stiffness * from.wind_rad +
                 joint.spring_damping * (from.crank_rad_s - from.sprung_rad_s);
    const auto rough = step_detail::couple(joint, from, brake, out.push, rough_s);
    out.crank_rad_s = at_least(rough.crank_rad_s);
    out.starter_mid_rad_s = 0.5 * (from.starter_rad_s + rough.starter_rad_s);
    out.step_s = 2.0 * joint.step_rad / (speed + out.crank_rad_s);
    if constexpr (sprung) step_detail::follow(joint, from, out);
    return out;
}

/// Ends the step, with the gas torque `gas_after` at its end. `driving` says whether the clutch pulled.
template <bool sprung, class T>
StepState<T> advance(const Drive<T>& drive, const Joint<T>& joint, const StepState<T>& from,
                     const T& gas_after, const StepAhead<T>& ahead, bool& driving) {
    using std::exp;
    const double slowest = slowest_share * drive.mean_speed_rad_s;
    const T target = drive.stall - drive.slope_per_rad_s * ahead.flux * ahead.starter_mid_rad_s;
    StepState<T> after{};
    after.load = target + (from.load - target) * exp(-ahead.step_s / drive.electric_lag_s);
    const T push = 0.5 * (ahead.push + after.load * flux(drive, after.load) - drive.starter_drag);
    T brake = 0.5 * (ahead.brake + friction(drive, ahead.crank_rad_s) - gas_after);
    if constexpr (sprung) brake += ahead.spring_pull;
    const auto coupled = step_detail::couple(joint, from, brake, push, ahead.step_s);
    after.crank_rad_s = coupled.crank_rad_s < slowest ? T(slowest) : coupled.crank_rad_s;
    after.starter_rad_s = coupled.starter_rad_s;
    after.twist_rad = coupled.twist_rad;
    if constexpr (sprung) {
        after.sprung_rad_s = ahead.sprung_rad_s;
        after.wind_rad = ahead.wind_rad;
    }
    driving = coupled.driving;
    return after;
}

}  // namespace evenstroke::contribution
