#include "evenstroke/contribution.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "align.hpp"
#include "angle/starter_speed.hpp"
#include "cycle_angle.hpp"
#include "events.hpp"
#include "fit_search.hpp"
#include "interval.hpp"
#include "load_samples.hpp"
#include "pattern.hpp"
#include "quantities.hpp"
#include "settle.hpp"
#include "signal/statistics.hpp"
#include "simple.hpp"
#include "speed_figure.hpp"
#include "stall.hpp"
#include "wheel_contribution.hpp"

namespace evenstroke {

namespace {

using namespace contribution;

/// A stretch of the cycle without a sample, as a share of the mean firing interval, that leaves a cylinder
/// unseen.
constexpr double widest_gap_share = 0.25;
/// Swing of the folded load below this share of its mean is no compression.
constexpr double least_swing_share = 0.004;
/// Swing of the folded load must exceed what the scatter between cycles makes by chance this many times.
constexpr double least_swing_over_scatter = 3.0;
/// Candidates of TDC that are tried when an odd-firing engine has no reference.
constexpr int most_candidates = 3;
/// Prior of TDC around a sync with lead, and around a candidate without reference, degrees.
constexpr double sync_sd_deg = 0.5;
constexpr double candidate_sd_deg = 8;

/// The trials of a load's search; where it ends badly, those of the next.
constexpr double load_trial_noise_shares[] = {usual_trial_noise_share, 0.5 * usual_trial_noise_share,
                                              2 * usual_trial_noise_share, 0.2 * usual_trial_noise_share};

/// The model misses this share of the trace's swing: worth saying; and no model of this engine at all.
constexpr double notable_misfit_share = 0.05, worst_misfit_share = 0.5;
/// A hump this far outside the interval is worth a notice.
constexpr double notable_hump_error_points = 5;
constexpr double notable_coasting_share = 0.05;

Contribution cannot_tell(Contribution&& so_far, const EngineLayout& layout, std::string reason) {
    for (CylinderContribution& c : so_far.cylinders) c = {};
    so_far.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    so_far.inconclusive = std::move(reason);
    return std::move(so_far);
}

/// Why the folded cycle cannot carry a verdict; empty when it can.
std::optional<std::string> unfit(const CycleAverage& average, const EngineLayout& layout, bool flat_load) {
    if (average.span_cycles < fewest_cycles)
        return fmt::format(
            "only {:.1f} settled engine cycles were recorded: crank for at least five seconds with fuel and "
            "ignition "
            "disabled",
            std::max(0.0, average.span_cycles));
    if (average.widest_gap * layout.cylinders() > widest_gap_share)
        return "too much of each cycle is missing or clipped to see every cylinder: record again with a "
               "wider range or "
               "a higher sample rate";
    if (!average.mean.allFinite()) return "the trace holds values that are not numbers: record again";
    const double swing = std::sqrt((average.mean - average.mean.mean()).square().mean());
    const double level = std::abs(average.mean.mean());
    const std::string nothing_compresses =
        "the load hardly varies over the engine's cycle: nothing seems to compress (spark plugs out, a "
        "decompression device, or the starter turns without the engine)";
    if (!(swing > least_swing_share * level) || !(level > 0)) return nothing_compresses;
    if (average.cycles.rows() >= 2) {
        const auto rows = static_cast<double>(average.cycles.rows());
        double scatter = 0;
        for (Eigen::Index k = 0; k < average.cycles.rows(); ++k)
            scatter += (average.cycles.row(k).transpose() - average.mean).square().mean();
        scatter = std::sqrt(scatter / (rows - 1) / rows);
        if (swing < least_swing_over_scatter * scatter)
            return flat_load ? nothing_compresses
                             : "the cycles do not agree with each other: check the number of cylinders, the "
                               "sync channel and the clamp, and record again at steady cranking";
    }
    return std::nullopt;
}

/// A flywheel on springs swings back after each compression, and every swing looks like one of half the
/// engine's speed. Only a mark tells.
Notice counted_twice_notice(double speed_rpm) {
    return {"counted-twice",
            fmt::format(
                "{:.0f} rpm is fast for a starter, and without a sync each compression may have been counted "
                "twice, as behind a dual-mass flywheel: no cylinder is condemned on it; record a sync too",
                speed_rpm)};
}

std::vector<double> start_offsets(const CycleAverage& average, const CrankAngle& angle,
                                  const EngineLayout& layout) {
    if (angle.kind == ReferenceKind::none)
        return tdc_candidates_deg(average.mean, average.period_s, layout, most_candidates);
    // A turn on, the same firings lie elsewhere: with odd intervals, and with an odd number of even ones.
    const double repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    if (angle.once_per_turn && std::abs(std::remainder(cycle_deg / 2, repeat_deg)) > 1)
        return {0.0, cycle_deg / 2};
    return {0.0};
}

/// The folded trace and the model at whole crank degrees, in the trace's own unit.
void add_cycles(Contribution& out, const Load& load, const CycleAverage& average, const FitResult& fit,
                const CycleAngle& within) {
    const auto& made = fit.cycle.load;
    // Degree 0 is position 0's firing TDC; the fold may begin at a mark before or after it.
    const double tdc_deg = fit.model.cylinders[0].firing_deg;
    for (int d = 0; d < static_cast<int>(cycle_deg); ++d) {
        const double degree = std::fmod(d + tdc_deg + 2 * cycle_deg, cycle_deg);
        out.mean_cycle.push_back(load.as_recorded(at_share(average.mean, within.share(degree))));
        out.model_cycle.push_back(load.as_recorded(at_degree(made, degree) - fit.zero));
    }
}

/// The crank angle at steps of the usable part, turned as unevenly as the model turns it.
void add_knots(Contribution& out, const PhaseMap& phases, const FitResult& fit, const CycleAngle& within,
               double from_s, double to_s) {
    constexpr double knot_step_deg = 10;
    const double tdc_deg = fit.model.cylinders[0].firing_deg;
    const double first_deg = within.degrees(phases.phase(from_s));
    const double last_deg = within.degrees(phases.phase(to_s));
    for (double deg = std::ceil(first_deg / knot_step_deg) * knot_step_deg; deg <= last_deg;
         deg += knot_step_deg) {
        out.knot_s.push_back(phases.time_s(within.share(deg)));
        out.knot_deg.push_back(deg - tdc_deg);
    }
}

/// Says when a third of the cycles or more was of no use.
void say_cycles_left_out(Contribution& out, int recorded) {
    if (3 * *out.cycles_used > 2 * recorded) return;
    out.notices.push_back(
        {"cycles-left-out",
         fmt::format("{} of {} whole cycles were used: in the others the engine still sped up, "
                     "fired, or turned unlike the rest, or no mark tells their angle. Crank for "
                     "longer if the intervals are too wide",
                     *out.cycles_used, recorded)});
}

/// Says where the humps of the trace would mislead, and why.
void compare_with_humps(Contribution& out, const FitResult& fit, const CrankAngle& angle,
                        const EngineLayout& layout) {
    double worst = 0;
    std::size_t at = 0;
    for (std::size_t c = 0; c < out.cylinders.size(); ++c) {
        const CylinderContribution& one = out.cylinders[c];
        if (!one.simple_pct) continue;
        const double beyond = std::max(*one.low_pct - *one.simple_pct, *one.simple_pct - *one.high_pct);
        if (beyond > worst) {
            worst = beyond;
            at = c;
        }
    }
    if (worst < notable_hump_error_points) return;
    const char* cause =
        fit.cycle.coasting_share > notable_coasting_share
            ? "after each firing TDC the crank runs ahead of the starter, which then does not feel it"
        : layout.cylinders() >= 6
            ? "neighbouring compressions overlap and the crank's inertia carries each into the next"
            : "the crank's inertia carries each compression into the next";
    out.notices.push_back(
        {"humps-mislead",
         fmt::format(
             "the height of the humps alone would give {} {:.0f} % where the model finds {:.0f} %: {}. "
             "Judge by the contribution, not by the humps",
             cylinder_names(angle, layout)[at].label, *out.cylinders[at].simple_pct,
             *out.cylinders[at].contribution_pct, cause)});
}

/// Where folding may begin: while the engine still speeds up no angle can be carried back beyond the first
/// mark, so what lies before it is left out where enough remains.
double first_usable_s(const Cranking& cranking, const CrankAngle& angle) {
    if (angle.kind != ReferenceKind::sync || angle.time_s.size() < 3) return cranking.settled_s;
    const double first_s = angle.time_s.front();
    const double period_s = 120 / angle.speed_rpm;
    return cranking.end_s - first_s > fewest_cycles * period_s ? std::max(cranking.settled_s, first_s)
                                                               : cranking.settled_s;
}

/// The release of the key is found to a millisecond or two, and the load is gone within as many: what lies
/// nearer to it is left out, or the edge would stand as a notch in the mean cycle.
constexpr double release_edge_s = 0.005;

/// Where folding ends.
double last_usable_s(const Cranking& cranking, const CrankAngle& angle) {
    const double end_s = cranking.end_s - (cranking.ended_by == CrankingEnd::release ? release_edge_s : 0.0);
    return std::min(end_s, angle.ran_away_s.value_or(end_s));
}

/// The angle counted from the mark itself. Only there is it known: between marks the crank turns unevenly,
/// slowest near TDC, and `lead_deg` degrees are not their share of the cycle's time.
CrankAngle counted_from_mark(CrankAngle angle, double lead_deg) {
    for (double& value : angle.angle_deg) value += lead_deg;
    return angle;
}

}  // namespace

Contribution estimate(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                      const EngineLayout& layout) {
    Contribution out;
    if (trace.quantity == Quantity::wheel) out = wheel_contribution(cranking, angle, layout);
    out.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    if (trace.quantity == Quantity::wheel) return out;
    if (cranking.no_cranking) return cannot_tell(std::move(out), layout, *cranking.no_cranking);
    if (trace.zero_lost) return cannot_tell(std::move(out), layout, *trace.zero_lost);
    if (angle.no_reference) return cannot_tell(std::move(out), layout, *angle.no_reference);
    const double lead_deg = angle.kind == ReferenceKind::sync ? angle.lead_deg : 0.0;
    const std::optional<PhaseMap> phases = phase_map(counted_from_mark(angle, lead_deg));
    if (!phases)
        return cannot_tell(std::move(out), layout,
                           "fewer than two engine cycles were recorded: crank longer");
    const Load load = load_of(trace, cranking);
    const AlikeCycles cycles =
        fold_alike(load.samples, *phases, first_usable_s(cranking, angle), last_usable_s(cranking, angle));
    const CycleAverage& average = cycles.average;
    if (average.span_cycles > 1) out.speed_rpm = speed_figure(angle.speed_rpm, average.periods_s);
    if (const auto reason = unfit(average, layout, flat(cranking)))
        return cannot_tell(std::move(out), layout, *reason);
    if (const auto stalled_s = stall_s(average, load.inrush))
        return cannot_tell(
            std::move(out), layout,
            fmt::format("the starter all but stands still on a compression, for {:.2f} s in every cycle: the "
                        "charge leaks and cools meanwhile, so neither the humps nor the pressures tell the "
                        "cylinders apart. Charge or change the battery, check starter and cables, and record "
                        "again",
                        *stalled_s));

    FitData data;
    data.seen = average.mean;
    data.period_s = average.period_s;
    data.inrush = load.inrush;
    data.free_zero = !load.zero_known;
    data.offset_sd_deg = angle.kind == ReferenceKind::none ? candidate_sd_deg : sync_sd_deg;
    std::vector<double> offsets = start_offsets(average, angle, layout);
    for (double& offset_deg : offsets) offset_deg += lead_deg;
    if (offsets.empty())
        return cannot_tell(std::move(out), layout, "no compression events stand out in the folded cycle");
    const FitResult fit = fit_or_retry(data, layout, offsets, load_trial_noise_shares);
    const CycleAngle within{fit.node_share};
    const double misfit_share = fit.slow_misfit_rms / fit.swing;
    if (misfit_share > worst_misfit_share)
        return cannot_tell(
            std::move(out), layout,
            "no engine with these firing intervals makes such a trace: check the number of cylinders, the "
            "intervals and the sync channel");
    if (misfit_share > notable_misfit_share)
        out.notices.push_back(
            {"poor-fit",
             fmt::format("the engine model misses {:.0f} % of the trace's swing, so judge with care: "
                         "check the firing intervals and sync, and record again at steady cranking",
                         100 * misfit_share)});
    Contributions found = contributions_of(fit, average, layout.fires_evenly());
    if (const auto period = repeating_pattern(found.pct)) {
        found.high_pct.setConstant(100);
        out.notices.push_back(repeating_notice(*period));
    }
    if (angle.kind == ReferenceKind::none && angle.speed_rpm > usual_most_rpm) {
        found.high_pct.setConstant(100);
        out.notices.push_back(counted_twice_notice(angle.speed_rpm));
    }
    std::vector<double> tdc_share;
    for (const CylinderGas& gas : fit.model.cylinders) tdc_share.push_back(within.share(gas.firing_deg));
    const std::vector<double> simple = simple_contribution_pct(average.mean, layout, tdc_share[0]);

    for (const auto cycle : found.by_cycle_pct.rowwise())
        out.by_cycle_pct.emplace_back(cycle.begin(), cycle.end());
    out.events = events_of(load, *phases, average, layout, tdc_share, found.by_cycle_pct);
    for (std::size_t c = 0; c < out.cylinders.size(); ++c) {
        const auto at = static_cast<Eigen::Index>(c);
        CylinderContribution& cylinder = out.cylinders[c];
        cylinder.contribution_pct = found.pct[at];
        cylinder.low_pct = found.low_pct[at];
        cylinder.high_pct = found.high_pct[at];
        if (!simple.empty()) cylinder.simple_pct = simple[c];
        for (const CompressionEvent& e : out.events) cylinder.events += e.position == static_cast<int>(c);
    }
    out.cycles_used = static_cast<int>(average.cycles.rows());
    add_quantities(out, fit, data, layout, trace.quantity == Quantity::current && trace.unit == "A");
    say_cycles_left_out(out, angle.cycles);
    add_cycles(out, load, average, fit, within);
    add_knots(out, *phases, fit, within, cycles.from_s, cycles.to_s);
    compare_with_humps(out, fit, angle, layout);
    return out;
}

}  // namespace evenstroke
