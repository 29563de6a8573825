#include "wheel_places.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "fit_search.hpp"

namespace evenstroke::contribution::wheel {

namespace {

/// Places of TDC nearer than this are one.
constexpr double near_deg = 10;
/// A place whose misfit is twelve times as great as another's (40 ln 12²) will not come to be the likeliest.
constexpr double hopeless_cost = 200;

struct Place {
    double from_deg;  ///< where the search began
    SpeedFit fit;
};

std::optional<Place> search(const WheelMotion& motion, const EngineLayout& layout, double from_s,
                            double phase_deg, double phase_sd_deg, bool thorough) {
    const auto cycle = speed_cycle(motion, from_s, phase_deg);
    if (!cycle) return std::nullopt;
    return Place{phase_deg, fit_speed(motion, layout, *cycle, phase_deg, phase_sd_deg, thorough)};
}

void likeliest_first(std::vector<Place>& places) {
    std::sort(places.begin(), places.end(),
              [](const Place& a, const Place& b) { return a.fit.cost < b.fit.cost; });
}

}  // namespace

std::vector<SpeedFit> fit_places(const WheelMotion& motion, const EngineLayout& layout, double from_s,
                                 const std::vector<double>& phases_deg, double phase_sd_deg) {
    std::vector<Place> places;
    for (const double phase_deg : phases_deg)
        if (auto place = search(motion, layout, from_s, phase_deg, phase_sd_deg, false))
            places.push_back(std::move(*place));
    likeliest_first(places);
    // The trials of a search begin with a right TDC only where the linear model had it, and may miss the way
    // to the engine: what may be the likeliest is searched again from where it moved to, and more thoroughly.
    const double limit = places.empty() ? 0 : places.front().fit.cost + hopeless_cost;
    for (Place& place : places) {
        const double moved_to_deg = place.fit.answer.phase_deg;
        const bool poor = place.fit.misfit_share > poor_misfit_share;
        if (place.fit.cost > limit || (!poor && std::abs(moved_to_deg - place.from_deg) < near_deg)) continue;
        auto again = search(motion, layout, from_s, moved_to_deg, phase_sd_deg, poor);
        if (again && again->fit.cost < place.fit.cost) place = std::move(*again);
    }
    likeliest_first(places);
    std::vector<SpeedFit> fits;
    for (Place& place : places) {
        const auto same = [&](const SpeedFit& better) {
            return std::abs(std::remainder(better.answer.phase_deg - place.fit.answer.phase_deg,
                                           motion.repeat_deg)) < near_deg;
        };
        if (std::none_of(fits.begin(), fits.end(), same)) fits.push_back(std::move(place.fit));
    }
    return fits;
}

}  // namespace evenstroke::contribution::wheel
