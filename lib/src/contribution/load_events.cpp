#include "load_events.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace evenstroke::contribution {

namespace {

struct Extremes {
    double peak_s = 0;
    double peak = 0;
    double trough = 0;
};

/// Highest effort in [from_s, to_s] and lowest between trough_from_s and that; empty when no usable sample
/// lies in the first.
std::optional<Extremes> extremes(const Load& load, double trough_from_s, double from_s, double to_s) {
    std::optional<Extremes> out;
    double lowest = std::numeric_limits<double>::infinity();
    const LoadSamples& samples = load.samples;
    const auto begin = samples.time_s.begin();
    auto k = static_cast<std::size_t>(std::lower_bound(begin, samples.time_s.end(), trough_from_s) - begin);
    for (; k < samples.time_s.size() && samples.time_s[k] <= to_s; ++k) {
        if (!samples.usable[k]) continue;
        const double value = load.effort(k);
        lowest = std::min(lowest, value);
        if (samples.time_s[k] >= from_s && (!out || value > out->peak))
            out = Extremes{.peak_s = samples.time_s[k], .peak = value, .trough = lowest};
    }
    return out;
}

}  // namespace

std::vector<CompressionEvent> load_events(const Load& load, const PhaseMap& phases,
                                          const CycleAverage& average, const EngineLayout& layout,
                                          const std::vector<double>& tdc_share,
                                          const Eigen::ArrayXXd& by_cycle_pct) {
    std::vector<CompressionEvent> events;
    const auto cylinders = static_cast<std::size_t>(layout.cylinders());
    for (Eigen::Index cycle = 0; cycle < average.cycles.rows(); ++cycle)
        for (std::size_t c = 0; c < cylinders; ++c) {
            const double start = average.first_phase + static_cast<double>(cycle);
            const double phase = tdc_share[c] - std::floor(tdc_share[c] - start);
            const double before = layout.intervals_deg[(c + cylinders - 1) % cylinders] / cycle_deg;
            const double after = layout.intervals_deg[c] / cycle_deg;
            const auto found = extremes(load, phases.time_s(phase - before),
                                        phases.time_s(phase - before / 2), phases.time_s(phase + after / 2));
            if (!found) continue;
            CompressionEvent event;
            event.cycle = static_cast<int>(cycle);
            event.position = static_cast<int>(c);
            event.tdc_s = phases.time_s(phase);
            event.peak_s = found->peak_s;
            event.peak = load.as_recorded(found->peak);
            event.trough = load.as_recorded(found->trough);
            if (cycle < by_cycle_pct.rows())
                event.contribution_pct = by_cycle_pct(cycle, static_cast<Eigen::Index>(c));
            events.push_back(event);
        }
    std::sort(events.begin(), events.end(), [](const auto& a, const auto& b) { return a.tdc_s < b.tdc_s; });
    return events;
}

}  // namespace evenstroke::contribution
