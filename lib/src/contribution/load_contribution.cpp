#include "load_contribution.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "cranking/speed_span.hpp"
#include "cycle_angle.hpp"
#include "drive_and_loss.hpp"
#include "dual_mass.hpp"
#include "interval.hpp"
#include "load_curves.hpp"
#include "load_doubts.hpp"
#include "load_events.hpp"
#include "load_humps.hpp"
#include "load_noise.hpp"
#include "load_notices.hpp"
#include "load_places.hpp"
#include "load_samples.hpp"
#include "load_screen.hpp"
#include "load_stall.hpp"
#include "settle.hpp"
#include "shut_exhaust.hpp"
#include "speed_figure.hpp"

namespace evenstroke::contribution {

namespace {

/// Prior of TDC around a sync with lead, and around a candidate without reference, degrees.
constexpr double sync_sd_deg = 0.5;
constexpr double candidate_sd_deg = 8;

/// The model misses this share of the trace's swing: worth saying; and no model of this engine at all.
constexpr double notable_misfit_share = 0.05, worst_misfit_share = 0.5;

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

std::string stall_reason(double stalled_s) {
    return fmt::format(
        "the starter all but stands still on a compression, for {:.2f} s in every cycle: the "
        "charge leaks and cools meanwhile, so neither the humps nor the pressures tell the "
        "cylinders apart. Charge or change the battery, check starter and cables, and record "
        "again",
        stalled_s);
}

FitData fit_data(const Load& load, const CycleAverage& average, const CrankAngle& angle) {
    FitData data;
    data.seen = average.mean;
    data.period_s = average.period_s;
    data.slow_noise = slow_noise(load.samples, average);
    data.inrush = load.inrush;
    data.free_zero = !load.zero_known;
    data.offset_sd_deg = angle.kind == ReferenceKind::none ? candidate_sd_deg : sync_sd_deg;
    return data;
}

/// Mean speed over the steady part, and whole cycles within its interval.
void set_speed(Contribution& out, const PhaseMap& phases, const CycleAngle& within, const Cranking& cranking,
               const CrankAngle& angle, const CycleAverage& average) {
    const double to_s = last_usable_s(cranking, angle);
    const double from_s =
        cranking::speed_from_s(cranking.start_s, cranking.settled_s, to_s, 120 / angle.speed_rpm);
    out.speed_rpm = speed_figure(speed_between_rpm(phases, within, from_s, to_s), average.periods_s);
    if (out.speed_rpm) include(*out.speed_rpm, angle.speed_rpm);
}

void say_poor_fit(Contribution& out, double misfit_share) {
    if (!(misfit_share > notable_misfit_share)) return;
    out.notices.push_back(
        {"poor-fit", fmt::format("the engine model misses {:.0f} % of the trace's swing, so judge with care: "
                                 "check the firing intervals and sync, and record again at steady cranking",
                                 100 * misfit_share)});
}

/// The contributions, and how many of the events in `out` are each cylinder's.
void add_cylinders(Contribution& out, const Contributions& found, const std::vector<double>& humps_pct) {
    for (const auto cycle : found.by_cycle_pct.rowwise())
        out.by_cycle_pct.emplace_back(cycle.begin(), cycle.end());
    for (std::size_t c = 0; c < out.cylinders.size(); ++c) {
        const auto at = static_cast<Eigen::Index>(c);
        CylinderContribution& cylinder = out.cylinders[c];
        cylinder.contribution_pct = found.pct[at];
        cylinder.low_pct = found.low_pct[at];
        cylinder.high_pct = found.high_pct[at];
        if (!humps_pct.empty()) cylinder.simple_pct = humps_pct[c];
        for (const CompressionEvent& e : out.events) cylinder.events += e.position == static_cast<int>(c);
    }
}

}  // namespace

Contribution estimate_load(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                           const EngineLayout& layout) {
    Contribution out;
    out.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    const auto refuse = [&out](std::string reason) {
        out.inconclusive = std::move(reason);
        return std::move(out);
    };
    if (cranking.no_cranking) return refuse(*cranking.no_cranking);
    if (trace.zero_lost) return refuse(*trace.zero_lost);
    if (angle.no_reference) return refuse(*angle.no_reference);
    const std::optional<PhaseMap> phases = phase_map(counted_from_mark(angle, lead_of(angle)));
    if (!phases) return refuse("fewer than two engine cycles were recorded: crank longer");
    const Load load = load_of(trace, cranking);
    const AlikeCycles cycles =
        fold_alike(load.samples, *phases, first_usable_s(cranking, angle), last_usable_s(cranking, angle));
    const CycleAverage& average = cycles.average;
    if (average.span_cycles > 1) out.speed_rpm = speed_figure(angle.speed_rpm, average.periods_s);
    if (const auto reason = unfit(average, layout, flat(cranking))) return refuse(*reason);
    if (const auto stalled_s = stall_s(average, load.inrush)) return refuse(stall_reason(*stalled_s));

    const FitData data = fit_data(load, average, angle);
    const std::vector<double> offsets = offsets_to_try(average, angle, layout);
    if (offsets.empty()) return refuse("no compression events stand out in the folded cycle");
    const LoadFit reading{.angle = angle,
                          .layout = layout,
                          .samples = load.samples,
                          .phases = *phases,
                          .cycles = cycles,
                          .data = data,
                          .fits = fit_load_places(data, layout, offsets)};
    const FitResult& fit = reading.likeliest();
    if (!(missed_share(fit) <= worst_misfit_share)) return refuse(misfit_reason(cranking, angle));
    const CycleAngle within{fit.node_share};
    set_speed(out, *phases, within, cranking, angle, average);
    say_poor_fit(out, missed_share(fit));
    if (has_dual_mass(fit.model)) out.notices.push_back(dual_mass_notice());
    Contributions found = contributions_of(fit, average, layout.fires_evenly());
    doubt(out, found, reading);

    std::vector<double> tdc_share;
    for (const CylinderGas& gas : fit.model.cylinders) tdc_share.push_back(within.share(gas.firing_deg));
    out.events = load_events(load, *phases, average, layout, tdc_share, found.by_cycle_pct);
    add_cylinders(out, found, simple_contribution_pct(average.mean, layout, tdc_share[0]));
    out.cycles_used = static_cast<int>(average.cycles.rows());
    add_quantities(out, fit, data, layout, trace.quantity == Quantity::current && trace.unit == "A");
    say_cycles_left_out(out, angle.cycles);
    say_coarse_steps(out, load.samples, average, trace.unit);
    add_cycles(out, load, average, fit, within);
    add_knots(out, *phases, fit, within, cycles.from_s, cycles.to_s);
    forget_shut(out);
    compare_with_humps(out, fit, angle, layout);
    return out;
}

}  // namespace evenstroke::contribution
