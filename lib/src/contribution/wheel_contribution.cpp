#include "wheel_contribution.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "interval.hpp"
#include "pattern.hpp"
#include "shut_exhaust.hpp"
#include "speed_figure.hpp"
#include "twin.hpp"
#include "wheel_linear.hpp"
#include "wheel_motion.hpp"
#include "wheel_notices.hpp"
#include "wheel_places.hpp"
#include "wheel_screen.hpp"

namespace evenstroke::contribution {

namespace wheel {

namespace {

/// A rival place of the intervals is excluded when it is 20 times unlikelier (2 ln 20) and its squares are
/// greater by this factor: below that what the model lacks decides between the two. Of 95 odd-firing engines
/// drawn by the synth (seeds 600 to 623) the wrong place had won in four, by at most 1.40.
constexpr double doubtful_cost = 6.0;
constexpr double doubtful_squares_ratio = 1.5;
/// Closer compressions than this overlap fivefold (valves are shut for some 260 degrees): one in a thousand
/// healthy cylinders of drawn tens with 54 degrees was condemned, so no verdict is given.
constexpr double least_interval_deg = 60.0 - 0.5;
/// Where the intervals must find their own place in the cycle: a compression that speeds the crank up by more
/// than this share of what the strongest slows it down, because the place is wrong or the cylinder is dead.
/// Of 190 engines drawn by the synth (seeds 600 to 611) four went below, all of them wrong by 37 points or
/// more.
constexpr double most_negative_ratio = -0.15;
/// So many places of the intervals in the cycle are looked into.
constexpr int most_places = 3;
/// How well TDC is known: where the user or a cam tells it, the play of wheel, sensor and belt; where the
/// linear model found it, what it was off by on drawn engines.
constexpr double told_sd_deg = 2, found_sd_deg = 30;
/// A misfit of this share of the swing and more is another machine's: the engines of the tests that the
/// linear model reads rightly reach 0.13, and behind a flywheel on springs, or with other intervals, 0.16 to
/// 0.58 was seen (simulation).
constexpr double another_machine_share = 0.15;
/// A place whose misfit is not greater by half (40 ln 1.5²) is not excluded: what the model lacks decides
/// between the two.
constexpr double doubtful_fit_cost = 32;

/// Where position 0's TDC can lie when a mark was told: once a turn it may be a turn away, which is another
/// place of the intervals unless they repeat every turn.
std::vector<double> known_phases_deg(const WheelMotion& motion, const CrankAngle& angle) {
    const bool same = std::abs(std::remainder(cycle_deg / 2, motion.repeat_deg)) < 1;
    if (!angle.once_per_turn || same) return {0.0};
    return {0.0, cycle_deg / 2};
}

/// Whether the intervals themselves must tell where they begin.
bool places_open(const WheelMotion& motion, const CrankAngle& angle, bool known) {
    if (known) return known_phases_deg(motion, angle).size() > 1;
    return motion.tdc_deg.size() > 1 &&
           motion.repeat_deg > cycle_deg / static_cast<double>(motion.tdc_deg.size());
}

bool speeds_up(const LinearFit& fit) {
    return fit.strength.size() > 0 && fit.strength.minCoeff() < most_negative_ratio * fit.strength.maxCoeff();
}

bool not_excluded(const LinearFit& best, const LinearFit& rival) {
    return !speeds_up(rival) &&
           (rival.cost - best.cost < doubtful_cost || rival.squares < doubtful_squares_ratio * best.squares);
}

/// What one of the two models makes of the speed.
struct Reading {
    std::optional<Answer> answer;
    bool not_followed = false;  ///< the forward model makes no such speed
    /// Another place of the intervals is about as likely: each interval holds what either makes of it.
    bool doubtful = false;
    std::optional<std::string> inconclusive;  ///< why there is no answer; empty: the other model may have one
};

/// The forward model's reading, from the place of the intervals that it likes best; without answer where the
/// cycles are too few, or where it follows another engine.
Reading modelled(const WheelMotion& motion, const EngineLayout& layout, double from_s,
                 const std::vector<double>& phases_deg, double phase_sd_deg) {
    const auto fits = fit_places(motion, layout, from_s, phases_deg, phase_sd_deg);
    if (fits.empty()) return {};
    if (fits.front().misfit_share > hopeless_misfit_share)
        return {.not_followed = fits.front().misfit_share > another_machine_share};
    Reading reading{.answer = fits.front().answer};
    for (std::size_t k = 1; k < fits.size(); ++k)
        if (fits[k].cost - fits.front().cost < doubtful_fit_cost) {
            join(*reading.answer, fits[k].answer);
            reading.doubtful = true;
        }
    return reading;
}

/// The linear model's reading.
Reading linear(const WheelMotion& motion, const EngineLayout& layout, const std::vector<LinearFit>& places,
               bool open) {
    const bool placeless = open && speeds_up(places.front());
    const LinearFit* rival = places.size() > 1 ? &places[1] : nullptr;
    if (placeless && (!rival || speeds_up(*rival)))
        return {.inconclusive =
                    "the firing intervals fit nowhere in the cycle: wherever they begin, a compression "
                    "would have "
                    "to "
                    "speed the crank up. Check the intervals, and record a cam sensor too and name it with "
                    "--sync"};
    Reading reading{.answer = linear_answer(motion, layout, places.front())};
    if (rival && (placeless || not_excluded(places.front(), *rival)) && compresses(motion, *rival)) {
        join(*reading.answer, linear_answer(motion, layout, *rival));
        reading.doubtful = true;
    }
    // Neither place is to be relied on then: nobody is condemned on it.
    if (placeless) reading.answer->high_pct.setConstant(100);
    return reading;
}

/// The forward model's reading, or the linear model's where that has none. `known`: TDC was told.
Reading read(const WheelMotion& motion, const Cranking& cranking, const CrankAngle& angle,
             const EngineLayout& layout, bool known) {
    const std::vector<double> known_deg = known ? known_phases_deg(motion, angle) : std::vector<double>{};
    const bool open = places_open(motion, angle, known);
    const std::vector<LinearFit> places = fit_motion(motion, known_deg, open ? most_places : 1);
    if (places.empty() || !strong(places.front()))
        return {.inconclusive = nothing_fits(motion, layout, known)};
    std::vector<double> phases_deg = known_deg;
    if (!known)
        for (const LinearFit& place : places) phases_deg.push_back(place.phase_deg);
    const double from_s = std::max(cranking.settled_s, motion.time_s.front());
    const double sd_deg = known ? std::max(told_sd_deg, angle.offset_sd_deg) : found_sd_deg;
    Reading reading = modelled(motion, layout, from_s, phases_deg, sd_deg);
    if (reading.answer) return reading;
    const bool not_followed = reading.not_followed;
    if (!compresses(motion, places.front())) return {.inconclusive = nothing_fits(motion, layout, known)};
    const double shortest_deg = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    if (shortest_deg < least_interval_deg)
        return {.inconclusive =
                    fmt::format("compressions {:.0f} degrees apart overlap too far for this speed to tell "
                                "one cylinder from the "
                                "next; speed "
                                "is sound. Crank for longer, or record the starter current instead",
                                shortest_deg)};
    reading = linear(motion, layout, places, open);
    reading.not_followed = not_followed;
    if (not_followed && reading.answer) reading.answer->high_pct.setConstant(100);
    return reading;
}

/// Takes out of the answer what would condemn a cylinder for something else, and says so.
void spare(const WheelMotion& motion, const EngineLayout& layout, Answer& answer,
           std::vector<Notice>& notices) {
    if (const auto pattern = repeating_pattern(answer.pct)) {
        spare_pattern(*pattern, answer.high_pct);
        notices.push_back(repeating_notice(pattern->period));
    }
    const double shortest_deg = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    const auto hidden = hidden_by_gap(motion, answer.phase_deg, shortest_deg);
    if (hidden.empty()) return;
    for (const std::size_t position : hidden) answer.high_pct[static_cast<Eigen::Index>(position)] = 100;
    notices.push_back(gap_hides(hidden));
}

}  // namespace

}  // namespace wheel

Contribution estimate_wheel(const Cranking& cranking, const CrankAngle& angle, const EngineLayout& layout) {
    using namespace wheel;
    Contribution result;
    if (cranking.no_cranking) {
        result.inconclusive = cranking.no_cranking;
        return result;
    }
    if (!angle.no_reference && angle.time_s.size() >= 2)
        result.speed_rpm = speed_figure(angle.speed_rpm, cycle_periods_s(angle));
    result.inconclusive = too_little(angle, layout);
    if (result.inconclusive) return result;
    const WheelMotion motion = motion_of(angle, cranking, layout);
    if (motion.turned_deg() < cycle_deg) {
        result.inconclusive = fmt::format(
            "only {:.0f} degrees of steady cranking: a whole cycle of 720 is needed. Crank for five seconds",
            motion.turned_deg());
        return result;
    }
    const double longest_deg = *std::max_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    const bool known = angle.offset_sd_deg < longest_deg / 4;
    Reading reading = read(motion, cranking, angle, layout, known);
    result.inconclusive = std::move(reading.inconclusive);
    if (!reading.answer) return result;
    spare(motion, layout, *reading.answer, result.notices);
    if (!known && lone_compression(layout, reading.answer->pct)) {
        open_all(reading.answer->low_pct, reading.answer->high_pct);
        result.notices.push_back(lone_compression_notice());
    }
    fill(motion, *reading.answer, result);
    result.exhaust_shut = reading.answer->exhaust_shut;
    if (result.exhaust_shut && reading.doubtful)
        result.exhaust_shut->sure = false;  // of one place among several
    forget_shut(result);
    if (const auto& shut = result.exhaust_shut)
        result.notices.push_back(shut_exhaust_notice(*shut, layout, cylinder_names(angle, layout)));
    if (!known) result.notices.push_back(phase_found(angle, layout));
    if (reading.not_followed) result.notices.push_back(not_followed_notice());
    if (reading.doubtful) result.notices.push_back(fits_twice());
    if (form_repeats_with_firing(motion)) result.notices.push_back(tooth_form());
    return result;
}

}  // namespace evenstroke::contribution
