#include "evenstroke/contribution.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "align.hpp"
#include "events.hpp"
#include "interval.hpp"
#include "load_samples.hpp"
#include "signal/statistics.hpp"
#include "simple.hpp"
#include "wheel_contribution.hpp"

namespace evenstroke {

namespace {

using namespace contribution;

/// Fewer cycles than this cannot tell a cylinder from a chance.
constexpr double fewest_cycles = 1.5;
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
constexpr double sync_sd_deg = 0.7;
constexpr double candidate_sd_deg = 8;

Contribution cannot_tell(Contribution&& so_far, const EngineLayout& layout, std::string reason) {
    for (CylinderContribution& c : so_far.cylinders) c = {};
    so_far.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    so_far.inconclusive = std::move(reason);
    return std::move(so_far);
}

bool even_firing(const EngineLayout& layout) {
    const auto [low, high] = std::minmax_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    return *high - *low < 1;
}

/// Mean speed over the whole cycles, with the 95 % interval of that mean from the scatter of their periods.
std::optional<Figure> speed_of(const CycleAverage& average) {
    if (average.periods_s.empty()) return std::nullopt;
    Figure out;
    out.value = 120 / average.period_s;
    out.low = out.high = out.value;
    const auto count = average.periods_s.size();
    if (count >= 2) {
        const double sd = signal::standard_deviation(average.periods_s) / average.period_s * out.value;
        const double half = signal::student_t_quantile(0.975, static_cast<double>(count - 1)) * sd /
                            std::sqrt(static_cast<double>(count));
        out.low -= half;
        out.high += half;
    }
    return out;
}

/// Why the folded cycle cannot carry a verdict; empty when it can.
std::optional<std::string> unfit(const CycleAverage& average, const EngineLayout& layout, bool speed) {
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
    if (!(swing > least_swing_share * level) || !(level > 0))
        return "the load hardly varies over the engine's cycle: nothing seems to compress (spark plugs out, "
               "a "
               "decompression device, or the starter turns without the engine)";
    if (average.cycles.rows() >= 2 && !speed) {
        const auto rows = static_cast<double>(average.cycles.rows());
        double scatter = 0;
        for (Eigen::Index k = 0; k < average.cycles.rows(); ++k)
            scatter += (average.cycles.row(k).transpose() - average.mean).square().mean();
        scatter = std::sqrt(scatter / (rows - 1) / rows);
        if (swing < least_swing_over_scatter * scatter)
            return "the cycles do not agree with each other: check the number of cylinders, the sync channel "
                   "and the "
                   "clamp, and record again at steady cranking";
    }
    return std::nullopt;
}

std::vector<double> start_offsets(const CycleAverage& average, const CrankAngle& angle,
                                  const EngineLayout& layout, bool speed) {
    if (angle.kind == ReferenceKind::none)
        return tdc_candidates_deg(average.mean, average.period_s, speed, layout, most_candidates);
    if (angle.once_per_turn && !even_firing(layout)) return {0.0, 360.0};
    return {0.0};
}

/// A cycle given at shares of its time, brought to whole crank degrees.
Eigen::ArrayXd by_degree(const FitResult& fit, const auto& value_at_share) {
    Eigen::ArrayXd out(static_cast<Eigen::Index>(cycle_deg));
    for (Eigen::Index d = 0; d < out.size(); ++d) {
        const double node = static_cast<double>(d) / step_deg;
        const auto low = static_cast<Eigen::Index>(node);
        const double part = node - static_cast<double>(low);
        const double above = low + 1 < fit.node_share.size() ? fit.node_share[low + 1] : 1.0;
        out[d] = value_at_share(fit.node_share[low] * (1 - part) + above * part, node);
    }
    return out;
}

std::vector<double> tdc_shares(const FitResult& fit) {
    std::vector<double> out;
    for (const CylinderGas& gas : fit.model.cylinders) {
        const double node = (gas.firing_deg - std::floor(gas.firing_deg / cycle_deg) * cycle_deg) / step_deg;
        const auto low = std::min(static_cast<Eigen::Index>(node), fit.node_share.size() - 1);
        const double part = node - static_cast<double>(low);
        const double above = low + 1 < fit.node_share.size() ? fit.node_share[low + 1] : 1.0;
        out.push_back(fit.node_share[low] * (1 - part) + above * part);
    }
    return out;
}

}  // namespace

Contribution estimate(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                      const EngineLayout& layout) {
    Contribution out;
    if (trace.quantity == Quantity::wheel) out = wheel_contribution(cranking, angle, layout);
    out.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    if (trace.quantity == Quantity::wheel) return out;
    if (cranking.no_cranking) return cannot_tell(std::move(out), layout, *cranking.no_cranking);
    if (angle.no_reference) return cannot_tell(std::move(out), layout, *angle.no_reference);
    const std::optional<PhaseMap> phases = phase_map(angle);
    if (!phases)
        return cannot_tell(std::move(out), layout,
                           "fewer than two engine cycles were recorded: crank longer");
    const Load load = load_of(trace, cranking, angle);
    const CycleAverage average = fold(load.samples, *phases, cranking.settled_s, cranking.end_s);
    if (average.span_cycles > 1) out.speed_rpm = speed_of(average);
    if (const auto reason = unfit(average, layout, load.speed))
        return cannot_tell(std::move(out), layout, *reason);

    FitData data;
    data.load = average.mean;
    data.period_s = average.period_s;
    data.inrush = load.inrush;
    data.free_zero = !load.zero_known;
    data.speed = load.speed;
    data.offset_sd_deg = angle.kind == ReferenceKind::none ? candidate_sd_deg : sync_sd_deg;
    const std::vector<double> offsets = start_offsets(average, angle, layout, load.speed);
    if (offsets.empty())
        return cannot_tell(std::move(out), layout, "no compression events stand out in the folded cycle");
    const FitResult fit = fit_best(data, layout, offsets);
    const Contributions found = contributions_of(fit, average);
    const std::vector<double> shares = tdc_shares(fit);
    const std::vector<double> simple =
        simple_contribution_pct(load.speed ? Eigen::ArrayXd(-average.mean) : average.mean, layout, shares[0]);

    out.by_cycle_pct = found.by_cycle_pct;
    out.events = events_of(load, *phases, average, layout, shares, found.by_cycle_pct);
    for (std::size_t c = 0; c < out.cylinders.size(); ++c) {
        const auto at = static_cast<Eigen::Index>(c);
        CylinderContribution& cylinder = out.cylinders[c];
        cylinder.contribution_pct = found.pct[at];
        cylinder.low_pct = found.low_pct[at];
        cylinder.high_pct = found.high_pct[at];
        if (!simple.empty()) cylinder.simple_pct = simple[c];
        for (const CompressionEvent& e : out.events) cylinder.events += e.position == static_cast<int>(c);
    }
    const auto recorded = [&](double value) { return load.as_recorded(load.speed ? -value : value); };
    out.mean_cycle = by_degree(fit, [&](double at, double) { return recorded(at_share(average.mean, at)); });
    out.model_cycle = by_degree(fit, [&](double, double node) {
        const auto low = static_cast<std::size_t>(node);
        const double part = node - static_cast<double>(low);
        const auto& values = load.speed ? fit.cycle.speed_rad_s : fit.cycle.load;
        return recorded(values[low] * (1 - part) + values[low + 1] * part - fit.zero);
    });
    return out;
}

}  // namespace evenstroke
