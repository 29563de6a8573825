#include "wheel_contribution.hpp"

#include <fmt/core.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "angle/starter_speed.hpp"
#include "angle/wheel.hpp"
#include "pattern.hpp"
#include "signal/statistics.hpp"
#include "speed_figure.hpp"
#include "wheel_linear.hpp"
#include "wheel_places.hpp"

namespace evenstroke {

namespace {

using wheel::Answer;
using wheel::Fit;
using wheel::Motion;

/// Fewer teeth in a firing interval than this cannot carry a compression's height, place and baseline.
constexpr int least_teeth_per_interval = 4;
/// Angles of teeth are sums of pitches.
constexpr double rounding_deg = 0.01;
/// Fewer settled cycles than this are stretched backwards into the run-up, down to this share of the speed.
constexpr double wanted_cycles = 2.0;
constexpr double run_up_share = 0.75;
/// How far the crank coasts with the starter let go before its speed shows it.
constexpr double coasting_deg = 360.0;
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
/// Masses alone, and errors of the teeth, swing the speed by some per cent; compressions by more than this.
constexpr double least_ripple_share = 0.05;
/// A gap hides a compression when it takes, with half a tooth to either side, a third of the interval to the
/// next, and reaches into the crank's slow phase: from 30 degrees before TDC to 15 after it. Sixes on 24-2
/// and twelves on 36-2 read 20 points too low there (docs/wheel.md).
constexpr double wide_gap_share = 1.0 / 3, slow_middle_deg = 7.5, slow_half_deg = 22.5;
/// So many places of the intervals in the cycle are looked into.
constexpr int most_places = 3;
/// How well TDC is known: where the user or a cam tells it, the play of wheel, sensor and belt; where the
/// linear model found it, what it was off by on drawn engines.
constexpr double told_sd_deg = 2, found_sd_deg = 30;
/// A place whose misfit is not greater by half (40 ln 1.5²) is not excluded: what the model lacks decides
/// between the two.
constexpr double doubtful_fit_cost = 32;

std::size_t first_tooth(const CrankAngle& angle, const Cranking& cranking, double interval_deg) {
    const auto settled = std::lower_bound(angle.time_s.begin(), angle.time_s.end(), cranking.settled_s);
    auto first = static_cast<std::size_t>(settled - angle.time_s.begin());
    first = std::min(first, angle.time_s.size() - 2);
    const double wanted = angle.angle_deg.back() - wanted_cycles * cycle_deg;
    while (first > 0 && angle.angle_deg[first] > wanted) {
        const auto ahead = std::lower_bound(angle.angle_deg.begin(), angle.angle_deg.end(),
                                            angle.angle_deg[first - 1] + interval_deg);
        if (ahead == angle.angle_deg.end()) break;
        const auto k = static_cast<std::size_t>(ahead - angle.angle_deg.begin());
        const double rpm = (angle.angle_deg[k] - angle.angle_deg[first - 1]) / 6 /
                           (angle.time_s[k] - angle.time_s[first - 1]);
        if (rpm < run_up_share * angle.speed_rpm) break;
        --first;
    }
    return first;
}

/// The tooth past the last that is used. After the key is let go the crank coasts on for up to a turn, and
/// nothing in its speed tells when that was: so much before a release is left out where enough cycles remain.
std::size_t past_last_tooth(const CrankAngle& angle, std::size_t first, CrankingEnd ended_by) {
    const std::size_t all = angle.angle_deg.size();
    if (ended_by != CrankingEnd::release) return all;
    const double last_deg = angle.angle_deg.back() - coasting_deg;
    if (last_deg - angle.angle_deg[first] < wanted_cycles * cycle_deg) return all;
    const auto past = std::upper_bound(angle.angle_deg.begin(), angle.angle_deg.end(), last_deg);
    return static_cast<std::size_t>(past - angle.angle_deg.begin());
}

Motion motion_of(const CrankAngle& angle, std::size_t first, std::size_t past, const EngineLayout& layout) {
    Motion motion;
    const auto from = static_cast<std::ptrdiff_t>(first), to = static_cast<std::ptrdiff_t>(past);
    motion.time_s.assign(angle.time_s.begin() + from, angle.time_s.begin() + to);
    motion.angle_deg.assign(angle.angle_deg.begin() + from, angle.angle_deg.begin() + to);
    const ToothSpeed speed = tooth_speed(motion.time_s, motion.angle_deg, true);
    motion.rad_per_s = Eigen::Map<const Eigen::VectorXd>(speed.rad_per_s.data(),
                                                         static_cast<Eigen::Index>(speed.rad_per_s.size()));
    motion.tdc_deg = layout.firing_tdc_deg();
    motion.repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    return motion;
}

/// Times that the last whole cycles of the settled part took, backwards from its end. Turns would not do:
/// those of most engines hold now these cylinders, now the others.
std::vector<double> cycle_periods_s(const CrankAngle& angle) {
    std::vector<double> periods_s;
    const std::size_t most = static_cast<std::size_t>(std::max(1, angle.cycles));
    std::size_t last = angle.time_s.size() - 1;
    for (std::size_t i = last; i-- > 0 && periods_s.size() < most;) {
        const double turned_deg = angle.angle_deg[last] - angle.angle_deg[i];
        if (turned_deg < cycle_deg - rounding_deg) continue;
        periods_s.push_back((angle.time_s[last] - angle.time_s[i]) * cycle_deg / turned_deg);
        last = i;
    }
    return periods_s;
}

/// Teeth in the stretch of `interval_deg` that has the fewest: a gap is where a compression goes unseen.
int fewest_teeth(const CrankAngle& angle, double interval_deg) {
    std::size_t fewest = angle.angle_deg.size();
    std::size_t past = 0;
    for (std::size_t i = 0; i < angle.angle_deg.size(); ++i) {
        // Just after tooth i, which is not counted: the emptiest stretches begin there.
        const double end_deg = angle.angle_deg[i] + interval_deg + rounding_deg;
        if (end_deg > angle.angle_deg.back()) break;
        while (past < angle.angle_deg.size() && angle.angle_deg[past] <= end_deg) ++past;
        fewest = std::min(fewest, past - i - 1);
    }
    return static_cast<int>(fewest);
}

/// Why no verdict can come of this motion at all, before anything is fitted.
std::optional<std::string> too_little(const CrankAngle& angle, const EngineLayout& layout) {
    if (angle.no_reference) return angle.no_reference;
    if (angle.time_s.size() < 4) return "the wheel shows too few teeth";
    if (angle.speed_rpm > fastest_cranking_rpm)
        return fmt::format(
            "the crank turns at {:.0f} rpm, faster than a starter turns it: the engine runs or "
            "is driven. Crank with fuel and ignition disabled, or narrow with --from and --to",
            angle.speed_rpm);
    const double interval = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    if (const int teeth = fewest_teeth(angle, interval); teeth < least_teeth_per_interval)
        return fmt::format(
            "too coarse a wheel: {} {} between two compressions, at least {} are needed to tell one "
            "cylinder from "
            "another; speed is sound. Record the starter current instead",
            teeth, teeth == 1 ? "tooth" : "teeth", least_teeth_per_interval);
    return {};
}

/// A wheel whose teeth repeat with the compressions hides its own errors in them.
bool form_repeats_with_firing(const Motion& motion) {
    const double interval = cycle_deg / static_cast<double>(motion.tdc_deg.size());
    if (motion.repeat_deg > interval) return false;
    double low = 1e9;
    double high = 0;
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        low = std::min(low, motion.angle_deg[i] - motion.angle_deg[i - 1]);
        high = std::max(high, motion.angle_deg[i] - motion.angle_deg[i - 1]);
    }
    if (high - low < 1) return false;
    // Every gap must have a gap one interval on.
    for (std::size_t i = 1; i < motion.angle_deg.size(); ++i) {
        if (motion.angle_deg[i] - motion.angle_deg[i - 1] < high - 1e-6) continue;
        const double there = motion.angle_deg[i] + interval;
        if (there > motion.angle_deg.back()) break;
        const auto next = std::lower_bound(motion.angle_deg.begin(), motion.angle_deg.end(), there - 0.5);
        const auto k = static_cast<std::size_t>(next - motion.angle_deg.begin());
        if (std::abs(motion.angle_deg[k] - there) > 0.5 ||
            motion.angle_deg[k] - motion.angle_deg[k - 1] < high - 1e-6)
            return false;
    }
    return true;
}

/// Where position 0's TDC can lie when a mark was told: once a turn it may be a turn away, which is another
/// place of the intervals unless they repeat every turn.
std::vector<double> known_phases_deg(const Motion& motion, const CrankAngle& angle) {
    const bool same = std::abs(std::remainder(cycle_deg / 2, motion.repeat_deg)) < 1;
    if (!angle.once_per_turn || same) return {0.0};
    return {0.0, cycle_deg / 2};
}

/// Whether the intervals themselves must tell where they begin.
bool places_open(const Motion& motion, const CrankAngle& angle, bool known) {
    if (known) return known_phases_deg(motion, angle).size() > 1;
    return motion.tdc_deg.size() > 1 &&
           motion.repeat_deg > cycle_deg / static_cast<double>(motion.tdc_deg.size());
}

bool speeds_up(const Fit& fit) {
    return fit.strength.size() > 0 && fit.strength.minCoeff() < most_negative_ratio * fit.strength.maxCoeff();
}

bool not_excluded(const Fit& best, const Fit& rival) {
    return !speeds_up(rival) &&
           (rival.cost - best.cost < doubtful_cost || rival.squares < doubtful_squares_ratio * best.squares);
}

/// The forward model's answer, from the place of the intervals that it likes best; empty where the cycles are
/// too few, or where it follows another engine. `doubtful` says that another place is about as likely: each
/// interval then holds what either makes of it.
std::optional<Answer> modelled(const Motion& motion, const EngineLayout& layout, double from_s,
                               const std::vector<double>& phases_deg, double phase_sd_deg, bool& doubtful) {
    const auto fits = wheel::fit_places(motion, layout, from_s, phases_deg, phase_sd_deg);
    if (fits.empty() || fits.front().misfit_share > contribution::hopeless_misfit_share) return std::nullopt;
    Answer answer = fits.front().answer;
    for (std::size_t k = 1; k < fits.size(); ++k)
        if (fits[k].cost - fits.front().cost < doubtful_fit_cost) {
            wheel::join(answer, fits[k].answer);
            doubtful = true;
        }
    return answer;
}

/// The linear model's answer; `inconclusive` says why there is none.
std::optional<Answer> linear(const Motion& motion, const EngineLayout& layout, const std::vector<Fit>& places,
                             bool open, bool& doubtful, std::optional<std::string>& inconclusive) {
    const bool placeless = open && speeds_up(places.front());
    const Fit* rival = places.size() > 1 ? &places[1] : nullptr;
    if (placeless && (!rival || speeds_up(*rival))) {
        inconclusive =
            "the firing intervals find no place in the cycle: wherever they begin, a compression would have "
            "to "
            "speed the crank up. Check the intervals, and record a cam sensor too and name it with --sync";
        return std::nullopt;
    }
    Answer answer = wheel::linear_answer(motion, layout, places.front());
    if (rival && (placeless || not_excluded(places.front(), *rival)) && wheel::compresses(motion, *rival)) {
        wheel::join(answer, wheel::linear_answer(motion, layout, *rival));
        doubtful = true;
    }
    if (placeless)
        answer.high_pct.setConstant(100);  // neither place is to be relied on: nobody is condemned on it
    return answer;
}

/// Why no compression was found where there should be some. `told`: TDC was not searched.
std::string nothing_fits(const Motion& motion, const EngineLayout& layout, bool told) {
    if (told) {
        const std::vector<Fit> places = wheel::fit_motion(motion, {}, 1);
        if (!places.empty() && wheel::strong(places.front()))
            return fmt::format(
                "the engine compresses, but {:.0f} degrees away from where TDC was told to be: check "
                "--sync-lead, the cylinder that it counts to, --cylinders and --wheel, or leave --sync-lead "
                "out",
                std::abs(std::remainder(places.front().phase_deg, motion.repeat_deg)));
    }
    const double mean = motion.rad_per_s.mean();
    const double swing = std::sqrt((motion.rad_per_s.array() - mean).square().mean());
    if (swing > least_ripple_share * mean)
        return fmt::format(
            "the speed swings by {:.0f} %, but not as {} compressions a cycle would make it: check "
            "--cylinders, "
            "--intervals and --wheel. If they are right, nothing compresses: are the plugs out?",
            100 * swing / mean, layout.cylinders());
    return "nothing compresses: the speed carries no ripple that compression would make. Are the plugs "
           "out, or does the wheel turn without the engine?";
}

/// Positions whose compression comes where the wheel has a gap that is wide beside the firing intervals: what
/// is seen of it before and after hardly tells a leak from none.
std::vector<std::size_t> hidden_by_gap(const Motion& motion, const Answer& answer, double shortest_deg) {
    const wheel::Pitches pitches = wheel::pitches_of(motion);
    std::vector<std::size_t> hidden;
    for (std::size_t position = 0; position < motion.tdc_deg.size(); ++position) {
        const double slow_deg = answer.phase_deg + motion.tdc_deg[position] - slow_middle_deg;
        for (std::size_t k = 0; k < pitches.deg.size(); ++k) {
            // Half a tooth to either side is blurred too: a tooth's speed is that of its middle.
            const double blurred_deg = pitches.deg[k] + pitches.usual_deg;
            if (!pitches.gap(k) || blurred_deg < wide_gap_share * shortest_deg) continue;
            const double middle_deg = motion.angle_deg[k] + pitches.deg[k] / 2;
            if (std::abs(std::remainder(middle_deg - slow_deg, cycle_deg)) >= blurred_deg / 2 + slow_half_deg)
                continue;
            hidden.push_back(position);
            break;
        }
    }
    return hidden;
}

Notice gap_hides(const std::vector<std::size_t>& positions) {
    std::string list;
    for (std::size_t i = 0; i < positions.size(); ++i)
        list += fmt::format("{}{}",
                            i == 0                     ? ""
                            : i + 1 < positions.size() ? ", "
                                                       : " and ",
                            positions[i] + 1);
    return {"gap-hides",
            fmt::format("The wheel's gap comes where position{} {} compress{}, so a loss there is not sure "
                        "and nothing is "
                        "condemned on it. Record the starter current instead.",
                        positions.size() == 1 ? "" : "s", list, positions.size() == 1 ? "es" : "")};
}

Notice fits_twice() {
    return {
        "intervals-fit-twice",
        "The firing intervals fit the speed in two places about equally well, so which position is which is "
        "not sure, "
        "and the intervals hold both. Record a cam sensor too and name it with --sync, or give --sync-lead."};
}

Notice phase_found(const CrankAngle& angle, const EngineLayout& layout) {
    return {"phase-from-compression",
            fmt::format(
                "TDC was found from the compressions themselves; position 1 is the first after {}{}. Give "
                "--sync-lead to name cylinders.",
                angle.sync_channel.empty() ? "the wheel's first tooth"
                                           : fmt::format("the mark of \"{}\"", angle.sync_channel),
                layout.fires_evenly() ? "" : " that the intervals can begin with")};
}

Notice tooth_form() {
    return {"tooth-form",
            "The wheel's teeth repeat with the compressions, so an error in their form cannot be told from "
            "compression "
            "common to all cylinders; differences between cylinders are not touched. Compare with the "
            "starter current if a "
            "verdict hangs on it."};
}

}  // namespace

Contribution wheel_contribution(const Cranking& cranking, const CrankAngle& angle,
                                const EngineLayout& layout) {
    Contribution result;
    if (cranking.no_cranking) {
        result.inconclusive = cranking.no_cranking;
        return result;
    }
    if (!angle.no_reference && angle.time_s.size() >= 2)
        result.speed_rpm = contribution::speed_figure(angle.speed_rpm, cycle_periods_s(angle));
    result.inconclusive = too_little(angle, layout);
    if (result.inconclusive) return result;
    const auto [shortest, longest] =
        std::minmax_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    const std::size_t first = first_tooth(angle, cranking, *longest);
    const Motion motion = motion_of(angle, first, past_last_tooth(angle, first, cranking.ended_by), layout);
    if (motion.turned_deg() < cycle_deg) {
        result.inconclusive = fmt::format(
            "only {:.0f} degrees of steady cranking: a whole cycle of 720 is needed. Crank for five seconds",
            motion.turned_deg());
        return result;
    }
    const bool known = angle.offset_sd_deg < *longest / 4;
    const bool open = places_open(motion, angle, known);
    const std::vector<Fit> places = wheel::fit_motion(
        motion, known ? known_phases_deg(motion, angle) : std::vector<double>{}, open ? most_places : 1);
    if (places.empty() || !wheel::strong(places.front())) {
        result.inconclusive = nothing_fits(motion, layout, known);
        return result;
    }
    std::vector<double> phases_deg;
    if (known)
        phases_deg = known_phases_deg(motion, angle);
    else
        for (const Fit& place : places) phases_deg.push_back(place.phase_deg);
    bool doubtful = false;
    const double from_s = std::max(cranking.settled_s, motion.time_s.front());
    std::optional<Answer> answer =
        modelled(motion, layout, from_s, phases_deg,
                 known ? std::max(told_sd_deg, angle.offset_sd_deg) : found_sd_deg, doubtful);
    if (!answer && !wheel::compresses(motion, places.front()))
        result.inconclusive = nothing_fits(motion, layout, known);
    else if (!answer && *shortest < least_interval_deg)
        result.inconclusive = fmt::format(
            "compressions {:.0f} degrees apart overlap too far for this speed to tell one cylinder from the "
            "next; speed "
            "is sound. Crank for longer, or record the starter current instead",
            *shortest);
    else if (!answer)
        answer = linear(motion, layout, places, open, doubtful, result.inconclusive);
    if (!answer) return result;
    if (const auto period = contribution::repeating_pattern(answer->pct)) {
        answer->high_pct.setConstant(100);
        result.notices.push_back(contribution::repeating_notice(*period));
    }
    if (const auto hidden = hidden_by_gap(motion, *answer, *shortest); !hidden.empty()) {
        for (const std::size_t position : hidden) answer->high_pct[static_cast<Eigen::Index>(position)] = 100;
        result.notices.push_back(gap_hides(hidden));
    }
    wheel::fill(motion, *answer, result);
    if (!known) result.notices.push_back(phase_found(angle, layout));
    if (doubtful) result.notices.push_back(fits_twice());
    if (form_repeats_with_firing(motion)) result.notices.push_back(tooth_form());
    return result;
}

}  // namespace evenstroke
