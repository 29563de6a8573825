#include "load_contribution.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cranking/speed_span.hpp"
#include "cycle_angle.hpp"
#include "fit_search.hpp"
#include "half_speed.hpp"
#include "interval.hpp"
#include "load_align.hpp"
#include "load_curves.hpp"
#include "load_events.hpp"
#include "load_humps.hpp"
#include "load_noise.hpp"
#include "load_notices.hpp"
#include "load_places.hpp"
#include "load_samples.hpp"
#include "load_screen.hpp"
#include "load_stall.hpp"
#include "other_intervals.hpp"
#include "pattern.hpp"
#include "quantities.hpp"
#include "settle.hpp"
#include "shut_exhaust.hpp"
#include "speed_figure.hpp"
#include "twin.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::contribution {

namespace {

/// Prior of TDC around a sync with lead, and around a candidate without reference, degrees.
constexpr double sync_sd_deg = 0.5;
constexpr double candidate_sd_deg = 8;

/// The model misses this share of the trace's swing: worth saying; and no model of this engine at all.
constexpr double notable_misfit_share = 0.05, worst_misfit_share = 0.5;
/// Without a reference TDC is fitted too. With two cylinders, whose compressions alone hold it, that takes up
/// part of what is missed, so that less of it left says as much as hopeless_misfit_share does.
constexpr double hopeless_misfit_share_of_twin = 0.05;

std::vector<double> start_offsets(const CycleAverage& average, const CrankAngle& angle,
                                  const EngineLayout& layout) {
    if (angle.kind == ReferenceKind::none)
        return tdc_candidates_deg(average.mean, average.period_s, layout, most_places_tried);
    // A turn on, the same firings lie elsewhere: with odd intervals, and with an odd number of even ones.
    const double repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    if (angle.once_per_turn && std::abs(std::remainder(cycle_deg / 2, repeat_deg)) > 1)
        return {0.0, cycle_deg / 2};
    return {0.0};
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

std::string stall_reason(double stalled_s) {
    return fmt::format(
        "the starter all but stands still on a compression, for {:.2f} s in every cycle: the "
        "charge leaks and cools meanwhile, so neither the humps nor the pressures tell the "
        "cylinders apart. Charge or change the battery, check starter and cables, and record "
        "again",
        stalled_s);
}

/// Degrees from where folding begins, a sync's mark, to position 0's TDC.
double lead_of(const CrankAngle& angle) {
    return angle.kind == ReferenceKind::sync ? angle.lead_deg : 0.0;
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

/// The places of TDC from which the fit is tried, after where folding begins; none where nothing stands out.
std::vector<double> offsets_to_try(const CycleAverage& average, const CrankAngle& angle,
                                   const EngineLayout& layout) {
    std::vector<double> offsets = start_offsets(average, angle, layout);
    for (double& offset_deg : offsets) offset_deg += lead_of(angle);
    return offsets;
}

void say_poor_fit(Contribution& out, double misfit_share) {
    if (!(misfit_share > notable_misfit_share)) return;
    out.notices.push_back(
        {"poor-fit", fmt::format("the engine model misses {:.0f} % of the trace's swing, so judge with care: "
                                 "check the firing intervals and sync, and record again at steady cranking",
                                 100 * misfit_share)});
}

/// Opens the intervals where something else than the cylinders may have made the trace, and says so.
void doubt(Contribution& out, Contributions& found, const std::vector<FitResult>& fits,
           const CycleAverage& average, const CrankAngle& angle, const EngineLayout& layout) {
    const FitResult& fit = fits.front();
    const bool tdc_free = angle.kind == ReferenceKind::none;
    if (tdc_free && lone_compression(layout, found.pct)) {
        open_all(found.low_pct, found.high_pct);
        out.notices.push_back(lone_compression_notice());
    } else if (tdc_free && layout.cylinders() == 2 && missed_share(fit) > hopeless_misfit_share_of_twin) {
        open_all(found.low_pct, found.high_pct);
    } else if (fits.size() > 1) {
        for (const FitResult& rival : std::span(fits).subspan(1)) {
            const Contributions other = contributions_of(rival, average, layout.fires_evenly());
            hold_both(found.low_pct, found.high_pct, other.low_pct, other.high_pct);
        }
        out.notices.push_back(load_fits_twice_notice());
    }
    if (tdc_free && angle.speed_rpm > usual_most_rpm) {
        found.high_pct.setConstant(100);
        out.notices.push_back(counted_twice_notice(mean_speed_rpm(angle, out).value_or(angle.speed_rpm)));
    }
    out.exhaust_shut = exhaust_shut(fit);
    if (out.exhaust_shut && fits.size() > 1) out.exhaust_shut->sure = false;  // of one place among several
    if (const auto& shut = out.exhaust_shut) {
        doubt_shut(*shut, layout, found.pct, found.low_pct, found.high_pct);
        out.notices.push_back(shut_exhaust_notice(*shut, layout, cylinder_names(angle, layout)));
    }
    if (const auto pattern = repeating_pattern(found.pct)) {
        spare_pattern(*pattern, found.high_pct);
        out.notices.push_back(repeating_notice(pattern->period));
    }
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
    const std::vector<FitResult> fits = fit_load_places(data, layout, offsets);
    const FitResult& fit = fits.front();
    const CycleAngle within{fit.node_share};
    const double misfit_share = missed_share(fit);
    if (misfit_share > worst_misfit_share) return refuse(misfit_reason(cranking, angle));
    const double to_s = last_usable_s(cranking, angle);
    const double from_s =
        cranking::speed_from_s(cranking.start_s, cranking.settled_s, to_s, 120 / angle.speed_rpm);
    out.speed_rpm = speed_figure(speed_between_rpm(*phases, within, from_s, to_s), average.periods_s);
    if (out.speed_rpm) include(*out.speed_rpm, angle.speed_rpm);
    say_poor_fit(out, misfit_share);
    Contributions found = contributions_of(fit, average, layout.fires_evenly());
    doubt(out, found, fits, average, angle, layout);
    if (may_be_half_speed(angle, layout, found) &&
        half_speed_fits(load.samples, *phases, cycles.from_s, cycles.to_s, data, layout, fit)) {
        open_all(found.low_pct, found.high_pct);
        out.notices.push_back(half_speed_notice(mean_speed_rpm(angle, out).value_or(angle.speed_rpm)));
    }
    const auto cost_of = [&](const EngineLayout& other) -> std::optional<double> {
        const std::vector<double> places = offsets_to_try(average, angle, other);
        if (places.empty()) return std::nullopt;
        return fit_best(data, other, places).cost;
    };
    // The right intervals are followed; trying the others takes as long for each of them.
    if (misfit_share > usual_misfit_share)
        if (const auto likelier =
                likelier_intervals(layout, angle.kind != ReferenceKind::none, found.pct, fit.cost, cost_of)) {
            found.high_pct.setConstant(100);
            out.notices.push_back(other_intervals_notice(layout, *likelier));
        }
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
