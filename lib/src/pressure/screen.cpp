#include "screen.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

#include "rhythm.hpp"
#include "signal/statistics.hpp"
#include "values/cranking_limits.hpp"
#include "values/slow_words.hpp"
#include "values/words.hpp"

namespace evenstroke::pressure {

namespace {

/// A pulse needs what lies so far on either side of its peak, in half widths of about 40 degrees.
constexpr double needed_widths = 2;

/// A straight line over so many degrees errs by less than the model does: 0.2 kPa at a top of 2 MPa.
constexpr double longest_hole_deg = 1;

/// Fewer compressions tell no running engine, nor a slow one: one that runs down makes a compression or two
/// that fall slowly, and follow one another fast where the crank rocks back.
constexpr std::size_t fewest_running = 3;

/// Up to here the readings carry top and TDC: picked from denser recordings (simulated), they put TDC as far
/// off as those did and the peak by 1 % at most. From 7 degrees on the peak was up to 6 % low and the engine
/// seemed to fire.
constexpr double coarsest_deg = 6;
/// A cycle at 100 rpm, where no two compressions show it: few starters turn an engine slower (from memory).
constexpr double slow_cycle_s = 1.2;
/// What the remedy asks for: below 5 degrees at any speed of a starter.
constexpr double advised_rate_hz = 1000;

/// Why readings so far apart tell nothing; empty where they are dense enough, or the engine is too fast for a
/// starter, which is its own reason.
std::optional<std::string> too_coarse(const PulseTrain& train, const Pressure& p) {
    const double cycle_s = train.pulses.size() > 1 ? train.period_s.value_or(0) : slow_cycle_s;
    const double reading_deg = cycle_s > 0 ? cycle_deg / (cycle_s * p.rate_hz) : 0;
    if (reading_deg <= coarsest_deg || cycle_s < 120 / fastest_unplugged_rpm) return std::nullopt;
    return fmt::format(
        "at {:.0f} Hz one reading stands for {:.0f} degrees of crank or more, and the top of a compression "
        "lies between two of them: record with {:.0f} Hz or more",
        p.rate_hz, std::floor(reading_deg), advised_rate_hz);
}

/// Parts the runs that the recording lacks: holes that do not matter are forgotten, gaps stay.
void forget_holes(const PulseTrain& train, Pressure& p) {
    const double longest = train.period_s ? longest_hole_deg / cycle_deg * *train.period_s * p.rate_hz : 0;
    const std::size_t holes = std::erase_if(
        p.bridged, [&](const Span& run) { return static_cast<double>(run.last - run.first) <= longest; });
    if (holes > 0)
        p.notices.push_back(
            {"holes", fmt::format("{}, each shorter than a degree of crank, {} bridged by straight lines: "
                                  "compressions with such holes count.",
                                  counted(holes, "holes"), holes == 1 ? "was" : "were")});
    const std::size_t gaps = p.bridged.size();
    if (gaps > 0)
        p.notices.push_back({"gaps", fmt::format("{} in the recording {} bridged by straight lines; "
                                                 "compressions that reach into one do not count.",
                                                 counted(gaps, "gaps"), gaps == 1 ? "was" : "were")});
}

/// Takes out the pulses that reach into a gap of the recording.
void leave_out_bridged(PulseTrain& train, const Pressure& p) {
    std::vector<RoughPulse> kept;
    double last_s = p.start_s;
    for (RoughPulse& pulse : train.pulses) {
        const double reach_s =
            needed_widths * (pulse.fall_s.value_or(2 * pulse.peak_s - pulse.rise_s) - pulse.rise_s);
        const auto meets = [&](double from_s, double to_s) {
            return std::any_of(p.bridged.begin(), p.bridged.end(), [&](const Span& gap) {
                return p.time_s(gap.last) > from_s && p.time_s(gap.first) < to_s;
            });
        };
        if (meets(pulse.peak_s - reach_s, pulse.peak_s + reach_s)) continue;
        pulse.bridged_before = meets(last_s, pulse.peak_s);
        last_s = pulse.peak_s;
        kept.push_back(pulse);
    }
    train.pulses = std::move(kept);
}

/// Why no pulse was driven; `kind` too.
void refuse(const PulseTrain& train, Pressure& result) {
    if (train.pulses.empty()) {
        result.kind = PressureKind::nothing;
        result.inconclusive =
            "every compression reaches into a gap of the recording: record again without gaps";
        return;
    }
    const auto burning =
        static_cast<std::size_t>(std::count_if(train.pulses.begin(), train.pulses.end(), burns));
    const double rpm = train.period_s ? 120 / *train.period_s : 0;
    if (train.pulses.size() < fewest_running) {
        const bool one = train.pulses.size() == 1;
        result.inconclusive = fmt::format(
            "only {} recorded{}: record from before the key is turned until at least four compressions are "
            "over",
            one ? "one compression was" : "two compressions were",
            burning > 0 || rpm > fastest_unplugged_rpm
                ? ", which may be of an engine that runs down, rocks back or fires"
                : "");
    } else if (burning > 0 && rpm > 0 && rpm < slowest_running_rpm) {
        result.leak_possible = true;
        result.inconclusive = fmt::format(
            "the pressure stays up after the peak: at {:.0f} rpm the engine fires, its crank all but stands "
            "still after TDC, or a neighbour's compression comes in through the head gasket. Disable fuel "
            "and ignition, charge the battery and record again; where it stays, test the leakage of this "
            "cylinder and its neighbours",
            rpm);
    } else if (burning > 0 || rpm > fastest_unplugged_rpm) {
        result.kind = PressureKind::fired;
        result.inconclusive = fmt::format(
            "this is a running engine: {}. Disable fuel and ignition and record while the starter cranks",
            rpm > fastest_unplugged_rpm
                ? fmt::format("at {:.0f} rpm it turns faster than a starter does (only four-strokes are "
                              "read: a two-stroke compresses twice as often and seems twice as fast)",
                              rpm)
                : "the pressure stays up after the peak, as combustion holds it");
    } else {
        result.inconclusive =
            "the compressions keep no steady rhythm: hold the key for at least four of them";
    }
}

void say_left_out(const PulseTrain& train, const Driven& driven, Pressure& result) {
    const Stretch& s = driven.stretch;
    if (s.first > 0)
        result.notices.push_back(
            {"uneven",
             fmt::format("{} before {:.2f} s {} left out: the rhythm of steady cranking begins there.",
                         counted(s.first, "compressions"), train.pulses[s.first].peak_s,
                         s.first == 1 ? "was" : "were")});
    const std::size_t count = train.pulses.size() - s.last;
    if (count == 0) return;
    const double from_s = train.pulses[s.last].peak_s;
    const char* were = count == 1 ? "was" : "were";
    if (driven.ending == Ending::fired)
        result.notices.push_back(
            {"fired",
             fmt::format(
                 "From {:.2f} s on the engine fires or runs up (or this cylinder seals where it did not "
                 "before): {} from there on {} left out. Disable fuel and ignition.",
                 from_s, counted(count, "compressions"), were)});
    else
        result.notices.push_back(
            {"run-down",
             fmt::format("From {:.2f} s on the compressions are slower, lower or out of rhythm, as "
                         "when the key is released: {} from there on {} left out.",
                         from_s, counted(count, "compressions"), were)});
}

}  // namespace

void screen(PulseTrain& train, Pressure& result) {
    forget_holes(train, result);
    if (const auto why = too_coarse(train, result)) {
        if (!train.pulses.empty()) result.kind = PressureKind::motored;
        result.inconclusive = *why;
        return;
    }
    const double recorded_s = static_cast<double>(result.kpa.size()) / result.rate_hz;
    if (train.pulses.empty() && recorded_s < slow_cycle_s) {
        result.inconclusive = fmt::format(
            "no compression lies in the {:.2f} s that were looked at, less than a cycle may "
            "take: crank for at least four compressions",
            recorded_s);
        return;
    }
    if (train.pulses.empty()) {
        result.inconclusive =
            "no compression stands out: the trace never rises well above its level between strokes. Put the "
            "transducer into another cylinder: if it shows compressions there, this one has none";
        return;
    }
    result.kind = PressureKind::motored;
    if (train.period_s && train.pulses.size() >= fewest_running)
        if (const auto why = slower_than_a_starter("the engine", 120 / *train.period_s)) {
            result.inconclusive = *why;
            return;
        }
    leave_out_bridged(train, result);
    const Driven driven =
        find_driven(train.pulses, train.rest, result.time_s(result.kpa.empty() ? 0 : result.kpa.size() - 1));
    const Stretch& s = driven.stretch;
    const auto begin = train.pulses.begin();
    const auto at = [&](std::size_t i) { return begin + static_cast<std::ptrdiff_t>(i); };
    // Steady cranking of one cylinder outweighs what its run-down looks like.
    if (two_cylinders(s.size() >= 3 ? std::vector<RoughPulse>(at(s.first), at(s.last)) : train.pulses,
                      train.rest)) {
        result.leak_possible = true;
        result.inconclusive =
            "every second compression differs from the one before: two cylinders are on the transducer, the "
            "head gasket lets a neighbour's compression in, or this cylinder leaks in every second cycle, as "
            "when a valve sticks. Connect the transducer to one cylinder alone and record again; where it "
            "stays, test the leakage of this cylinder and its neighbours";
        return;
    }
    if (const std::size_t low = low_in_rhythm(train.pulses, train.rest)) {
        result.leak_possible = true;
        result.unfitted = fmt::format(
            "{} of {} compressions reach less than three quarters of those before them while the crank turns "
            "on at its rhythm: the cylinder leaks now and then, as when a valve sticks, or the transducer's "
            "lead or thread does. Tighten it and record again; where it stays, test the leakage",
            low, train.pulses.size());
        return;
    }
    if (s.size() < 2) {
        refuse(train, result);
        return;
    }
    say_left_out(train, driven, result);
    if (driven.ending != Ending::recording) {
        const RoughPulse& last = train.pulses[s.last - 1];
        result.driven_until_s = last.foot_s.value_or(last.fall_s.value_or(last.peak_s));
    }
    train.pulses = std::vector<RoughPulse>(at(s.first), at(s.last));
    train.period_s = s.period_s;
}

}  // namespace evenstroke::pressure
