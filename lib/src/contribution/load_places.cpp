#include "load_places.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "fit_search.hpp"
#include "load_align.hpp"

namespace evenstroke::contribution {

namespace {

/// The trials of a load's search; where it ends badly, those of the next.
constexpr double load_trial_noise_shares[] = {usual_trial_noise_share, 0.5 * usual_trial_noise_share,
                                              2 * usual_trial_noise_share, 0.2 * usual_trial_noise_share};

std::vector<double> start_offsets(const CycleAverage& average, const CrankAngle& angle,
                                  const EngineLayout& layout) {
    if (angle.kind == ReferenceKind::none) return tdc_candidates_deg(average.mean, average.period_s, layout);
    // A turn on, the same firings lie elsewhere: with odd intervals, and with an odd number of even ones.
    const double repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    if (angle.once_per_turn && std::abs(std::remainder(cycle_deg / 2, repeat_deg)) > 1)
        return {0.0, cycle_deg / 2};
    return {0.0};
}

}  // namespace

double lead_of(const CrankAngle& angle) {
    return angle.kind == ReferenceKind::sync ? angle.lead_deg : 0.0;
}

std::vector<double> offsets_to_try(const CycleAverage& average, const CrankAngle& angle,
                                   const EngineLayout& layout) {
    std::vector<double> offsets = start_offsets(average, angle, layout);
    for (double& offset_deg : offsets) offset_deg += lead_of(angle);
    return offsets;
}

std::vector<FitResult> fit_load_places(const FitData& data, const EngineLayout& layout,
                                       const std::vector<double>& offsets_deg) {
    const std::span shares(load_trial_noise_shares);
    struct Place {
        double offset_deg;
        FitResult fit;
    };
    std::vector<Place> places;
    for (const double offset_deg : offsets_deg)
        places.push_back({offset_deg, fit_best(data, layout, {offset_deg}, shares.front())});
    const auto likelier = [](const Place& a, const Place& b) { return a.fit.cost < b.fit.cost; };
    const auto drop_excluded = [&] {
        std::sort(places.begin(), places.end(), likelier);
        const double limit = places.front().fit.cost + not_excluded_cost;
        std::erase_if(places, [&](const Place& place) { return place.fit.cost > limit; });
    };
    drop_excluded();
    for (Place& place : places)
        place.fit = or_retry(std::move(place.fit), data, layout, {place.offset_deg}, shares.subspan(1));
    drop_excluded();
    std::vector<FitResult> fits;
    for (Place& place : places) fits.push_back(std::move(place.fit));
    return fits;
}

Notice load_fits_twice_notice() {
    return {
        "intervals-fit-twice",
        "The firing intervals fit the load in more than one place about equally well, so which position is "
        "which is not sure, and the intervals hold each. Record a sync that marks one known cylinder once "
        "every two turns."};
}

}  // namespace evenstroke::contribution
