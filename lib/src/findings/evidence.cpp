#include "evenstroke/evidence.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "angle/half_cycle.hpp"
#include "evenstroke/units.hpp"

namespace evenstroke {

namespace {

/// The battery is at rest up to this long before the starter is seen to engage.
constexpr double rest_margin_s = 0.02;
/// Fewer samples than this tell no level.
constexpr std::size_t least_samples = 10;

/// Mean of the channel over [from_s, to_s) in volts; empty when too little lies there.
std::optional<double> mean_v(const Recording& recording, const Channel& channel, double from_s, double to_s,
                             double factor) {
    double sum = 0;
    std::size_t count = 0;
    for (std::size_t i = 0; i < channel.values.size(); ++i) {
        const double time_s = recording.start_s + static_cast<double>(i) / recording.rate_hz;
        if (time_s < from_s || time_s >= to_s) continue;
        sum += channel.values[i];
        ++count;
    }
    if (count < least_samples) return std::nullopt;
    return sum / static_cast<double>(count) * factor;
}

/// A battery of 6, 12 or 24 V: at rest within its usual limits, then lower by more than noise, yet not near
/// zero as a mark would be. A sensor's 5 V supply rests lower. Without a rest nothing tells it from another
/// voltage.
bool is_battery(const BatteryLevels& levels) {
    constexpr double least_v = 5.5, most_v = 32;
    constexpr double least_share = 0.4, most_share = 0.99;
    if (!levels.resting_v || !levels.cranking_v) return false;
    const double share = *levels.cranking_v / *levels.resting_v;
    return *levels.resting_v >= least_v && *levels.resting_v <= most_v && share >= least_share &&
           share <= most_share;
}

double dip_share(const BatteryLevels& levels) {
    return 1 - *levels.cranking_v / *levels.resting_v;
}

std::optional<Figure> figure(const CylinderContribution& c) {
    if (!c.contribution_pct || !c.low_pct || !c.high_pct) return std::nullopt;
    return Figure{*c.contribution_pct, *c.low_pct, *c.high_pct};
}

std::optional<double> in_volts(const Trace& trace, std::optional<double> level) {
    return trace.unit == "V" ? level : std::nullopt;
}

}  // namespace

RecordedEngine recorded_engine(const std::string& path, const Trace& trace, const Cranking& cranking,
                               const CrankAngle& angle, const Contribution& contribution,
                               const EngineLayout& layout, const Findings& findings,
                               const BatteryLevels& battery) {
    RecordedEngine out{.path = path == "-" ? "standard input" : path,
                       .outcome = findings.outcome,
                       .headline = findings.headline,
                       .no_verdict = findings.no_verdict,
                       .weak_below_pct = findings.weak_below_pct,
                       .cylinders = {},
                       .quantity = trace.quantity,
                       .speed_rpm = mean_speed_rpm(angle, contribution),
                       .resting_v = in_volts(trace, cranking.resting_v),
                       .cranking_v = in_volts(trace, cranking.mean_v)};
    if (!out.resting_v) out.resting_v = battery.resting_v;
    if (!out.cranking_v) out.cranking_v = battery.cranking_v;
    const auto names = cylinder_names(angle, layout);
    for (std::size_t i = 0; i < findings.verdicts.size() && i < names.size(); ++i) {
        RecordedCylinder c{.cylinder = names[i].cylinder,
                           .possible = names[i].possible,
                           .half_turn_on = {},
                           .label = names[i].label,
                           .contribution_pct = figure(contribution.cylinders[i]),
                           .verdict = findings.verdicts[i],
                           .loss = contribution.cylinders[i].loss_kind};
        const auto other = angle::half_cycle_on(layout, i);
        if (other && c.cylinder) c.half_turn_on = names[*other].cylinder;
        out.cylinders.push_back(std::move(c));
    }
    return out;
}

BatteryLevels battery_levels(const Recording& recording, const Cranking& cranking) {
    BatteryLevels deepest;
    if (cranking.no_cranking || !(recording.rate_hz > 0)) return deepest;
    for (const auto& channel : recording.channels) {
        const auto unit = find_unit(channel.unit);
        if (!unit || unit->dimension != Dimension::voltage) continue;
        const BatteryLevels levels{
            .channel = channel.name,
            .resting_v =
                mean_v(recording, channel, recording.start_s, cranking.start_s - rest_margin_s, unit->factor),
            .cranking_v = mean_v(recording, channel, cranking.settled_s, cranking.end_s, unit->factor)};
        if (!is_battery(levels)) continue;
        if (!deepest.resting_v || dip_share(levels) > dip_share(deepest)) deepest = levels;
    }
    return deepest;
}

}  // namespace evenstroke
