#include "half_speed.hpp"

#include <fmt/core.h>

#include <cstddef>

#include "fit_search.hpp"
#include "load_align.hpp"
#include "load_places.hpp"
#include "settle.hpp"

namespace evenstroke::contribution {

bool half_speed_fits(const LoadSamples& samples, const PhaseMap& phases, double from_s, double to_s,
                     FitData data, const EngineLayout& layout, const FitResult& fit) {
    PhaseMap half;
    for (std::size_t k = 0; k < phases.knots_s.size(); k += 2) half.knots_s.push_back(phases.knots_s[k]);
    if (half.knots_s.size() < 2) return false;
    const CycleAverage average = fold_alike(samples, half, from_s, to_s).average;
    if (!(average.span_cycles >= fewest_cycles) || !average.mean.allFinite()) return false;
    data.seen = average.mean;
    data.period_s = average.period_s;
    const auto places = tdc_candidates_deg(average.mean, average.period_s, layout);
    if (places.empty()) return false;
    // Not searched again where it ends badly, as it does wherever the speed was right.
    return fit_best(data, layout, places).cost < fit.cost + not_excluded_cost;
}

bool may_be_half_speed(const CrankAngle& angle, const EngineLayout& layout, const Contributions& found) {
    return angle.kind == ReferenceKind::none && layout.cylinders() == 2 && !layout.fires_evenly() &&
           found.pct.minCoeff() < doubtful_below_pct;
}

Notice half_speed_notice(double speed_rpm) {
    return {
        "counted-twice",
        fmt::format("Without a sync each compression may have been counted twice: an engine that cranks at "
                    "{:.0f} rpm would make this load about as well as one at {:.0f} rpm, so no cylinder is "
                    "condemned on it; record a sync too",
                    speed_rpm / 2, speed_rpm)};
}

}  // namespace evenstroke::contribution
