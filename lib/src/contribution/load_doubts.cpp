#include "load_doubts.hpp"

#include <span>
#include <vector>

#include "fit_search.hpp"
#include "half_speed.hpp"
#include "load_notices.hpp"
#include "load_places.hpp"
#include "other_intervals.hpp"
#include "pattern.hpp"
#include "shut_exhaust.hpp"
#include "speed_figure.hpp"
#include "twin.hpp"
#include "values/cranking_limits.hpp"
#include "values/notices.hpp"

namespace evenstroke::contribution {

namespace {

/// Without a reference TDC is fitted too. With two cylinders, whose compressions alone hold it, that takes up
/// part of what is missed, so that less of it left says as much as hopeless_misfit_share does.
constexpr double hopeless_misfit_share_of_twin = 0.05;

bool tdc_free(const LoadFit& load) {
    return load.angle.kind == ReferenceKind::none;
}

double speed_rpm(const Contribution& out, const LoadFit& load) {
    return mean_speed_rpm(load.angle, out).value_or(load.angle.speed_rpm);
}

/// Where only one of an even twin compresses, its compressions look like both, at half the speed.
void doubt_lone_speed(Contribution& out, const LoadFit& load) {
    const double seen_rpm = speed_rpm(out, load);
    if (2 * seen_rpm > usual_most_rpm) return;
    if (out.speed_rpm) include(*out.speed_rpm, 2 * seen_rpm);
    out.notices.push_back(lone_speed_notice(seen_rpm));
}

/// Which compression is whose.
void doubt_places(Contribution& out, Contributions& found, const LoadFit& load) {
    const EngineLayout& layout = load.layout;
    if (tdc_free(load) && lone_compression(layout, found.pct)) {
        open_all(found.low_pct, found.high_pct);
        out.notices.push_back(lone_compression_notice());
    } else if (tdc_free(load) && layout.cylinders() == 2 &&
               missed_share(load.likeliest()) > hopeless_misfit_share_of_twin) {
        open_all(found.low_pct, found.high_pct);
        if (layout.fires_evenly()) doubt_lone_speed(out, load);
    } else if (load.fits.size() > 1) {
        for (const FitResult& rival : std::span(load.fits).subspan(1)) {
            const Contributions other = contributions_of(rival, load.cycles.average, layout.fires_evenly());
            hold_both(found.low_pct, found.high_pct, other.low_pct, other.high_pct);
        }
        out.notices.push_back(load_fits_twice_notice());
    }
}

void doubt_shut_exhaust(Contribution& out, Contributions& found, const LoadFit& load) {
    out.exhaust_shut = exhaust_shut(load.likeliest());
    if (!out.exhaust_shut) return;
    // Not sure: in one place among several, of a trace that the model does not follow, or with intervals that
    // are not the engine's.
    if (load.fits.size() > 1 || missed_share(load.likeliest()) > hopeless_misfit_share ||
        has_notice(out.notices, "other-intervals"))
        out.exhaust_shut->sure = false;
    doubt_shut(*out.exhaust_shut, load.layout, found.pct, found.low_pct, found.high_pct);
    out.notices.push_back(
        shut_exhaust_notice(*out.exhaust_shut, load.layout, cylinder_names(load.angle, load.layout)));
}

/// Whether each compression was counted twice, or only every other one.
void doubt_speed(Contribution& out, Contributions& found, const LoadFit& load) {
    if (tdc_free(load) && load.angle.speed_rpm > usual_most_rpm) {
        found.high_pct.setConstant(100);
        out.notices.push_back(counted_twice_notice(speed_rpm(out, load)));
    }
    if (may_be_half_speed(load.angle, load.layout, found) &&
        half_speed_fits(load.samples, load.phases, load.cycles.from_s, load.cycles.to_s, load.data,
                        load.layout, load.likeliest())) {
        open_all(found.low_pct, found.high_pct);
        // That only one compresses is true at the speed that was read.
        std::erase_if(out.notices, [](const Notice& said) { return said.code == "lone-compression"; });
        out.notices.push_back(half_speed_notice(speed_rpm(out, load)));
    }
}

void doubt_intervals(Contribution& out, Contributions& found, const LoadFit& load) {
    // The right intervals are followed; trying the others takes as long for each of them. Only what may be
    // condemned is asked, or cannot be made out.
    const double missed = missed_share(load.likeliest());
    if (!(missed > usual_misfit_share)) return;
    if (!(found.pct.minCoeff() < doubtful_below_pct || exhaust_shut(load.likeliest()) ||
          missed > hopeless_misfit_share))
        return;
    const auto cost_of = [&](const EngineLayout& other) -> std::optional<double> {
        const std::vector<double> places = offsets_to_try(load.cycles.average, load.angle, other);
        if (places.empty()) return std::nullopt;
        return fit_best(load.data, other, places).cost;
    };
    if (const auto likelier =
            likelier_intervals(load.layout, !tdc_free(load), load.likeliest().cost, cost_of)) {
        found.high_pct.setConstant(100);
        out.notices.push_back(other_intervals_notice(load.layout, *likelier));
    }
}

}  // namespace

void doubt(Contribution& out, Contributions& found, const LoadFit& load) {
    doubt_places(out, found, load);
    doubt_intervals(out, found, load);
    doubt_shut_exhaust(out, found, load);
    if (const auto pattern = repeating_pattern(found.pct)) {
        spare_pattern(*pattern, found.high_pct);
        out.notices.push_back(repeating_notice(pattern->period));
    }
    doubt_speed(out, found, load);
}

}  // namespace evenstroke::contribution
