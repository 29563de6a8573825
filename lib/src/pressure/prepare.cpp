#include "prepare.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "clipping.hpp"
#include "evenstroke/units.hpp"
#include "polarity.hpp"
#include "signal/levels.hpp"
#include "spikes.hpp"
#include "staircase.hpp"
#include "values/scaled.hpp"

namespace evenstroke {

namespace {

/// T / T at sea level. p = 101.325 (1 - 2.25577e-5 Z)^5.2559 and density as ^4.2559, ASHRAE 1997 (references:
/// standard atmosphere).
double standard_temperature_ratio(double altitude_m) {
    return 1 - 2.25577e-5 * altitude_m;
}

}  // namespace

double ambient_at_kpa(double altitude_m) {
    return 101.325 * std::pow(standard_temperature_ratio(altitude_m), 5.2559);
}

double altitude_of_m(double ambient_kpa) {
    return (1 - std::pow(ambient_kpa / 101.325, 1 / 5.2559)) / 2.25577e-5;
}

double air_density_ratio(double altitude_m) {
    return std::pow(standard_temperature_ratio(altitude_m), 4.2559);
}

const char* name(PressureKind kind) {
    switch (kind) {
        case PressureKind::motored:
            return "motored";
        case PressureKind::staircase:
            return "staircase";
        case PressureKind::fired:
            return "fired";
        case PressureKind::nothing:
            break;
    }
    return "nothing";
}

namespace pressure {

namespace {

/// Ambient pressure where no altitude is given: half the people on earth live below 200 m, and weather moves
/// it by 2 kPa.
constexpr double usual_ambient_kpa = 100;
/// A reading between strokes this near to 0 or to ambient tells which zero the transducer has.
constexpr double near_zero_kpa = 45;
constexpr std::size_t fewest_samples = 50;
/// A check valve that holds lets a gauge sink by less than this share of its reading between two compressions
/// (common practice, no published source).
constexpr double most_sag_ratio = 0.05;

bool is_pressure(const Channel& channel) {
    const auto unit = find_unit(channel.unit);
    return unit && unit->dimension == Dimension::pressure;
}

/// How far a channel in a unit of pressure swings: a cranked cylinder stands high for a few hundredths of the
/// time, and spikes are shorter.
double swing_kpa(const Channel& channel) {
    constexpr double low = 0.01, high = 0.99;
    return find_unit(channel.unit)->factor *
           (signal::quantile(channel.values, high) - signal::quantile(channel.values, low));
}

/// A motored cylinder reaches about 6 MPa at most (from memory: a diesel's); injection rails and hydraulics
/// swing further.
constexpr double most_cylinder_kpa = 10'000;

/// Of several pressures the cylinder's swings most, but for those that no cylinder reaches: intake and oil
/// move by less. Says which it was.
std::size_t choose_pressure(const Recording& recording, const std::vector<std::size_t>& pressures,
                            std::vector<Notice>& notices) {
    const auto rank_kpa = [&](std::size_t i) {
        const double swing = swing_kpa(recording.channels[i]);
        return swing > most_cylinder_kpa ? -swing : swing;
    };
    const auto swings_less = [&](std::size_t a, std::size_t b) { return rank_kpa(a) < rank_kpa(b); };
    const std::size_t most = *std::max_element(pressures.begin(), pressures.end(), swings_less);
    std::string others;
    for (const std::size_t i : pressures)
        if (i != most)
            others += fmt::format("{}\"{}\" ({:.0f} kPa)", others.empty() ? "" : ", ",
                                  recording.channels[i].name, swing_kpa(recording.channels[i]));
    if (!others.empty())
        notices.push_back(
            {"channel-chosen",
             fmt::format("Several channels are in a unit of pressure. \"{}\", which swings by {:.0f} kPa, "
                         "looks most like a cylinder's and was taken; not analysed: {}. Name another with "
                         "--channel.",
                         recording.channels[most].name, swing_kpa(recording.channels[most]), others)});
    return most;
}

std::size_t choose(const Recording& recording, const PressureOptions& options, std::vector<Notice>& notices) {
    if (options.channel) return find_channel(recording, *options.channel);
    std::size_t sampled = recording.channels.size(), count = 0;
    std::vector<std::size_t> pressures;
    for (std::size_t i = 0; i < recording.channels.size(); ++i) {
        if (recording.channels[i].values.empty()) continue;
        if (is_pressure(recording.channels[i])) pressures.push_back(i);
        sampled = i;
        ++count;
    }
    if (!pressures.empty()) return choose_pressure(recording, pressures, notices);
    if (count == 1) return sampled;
    std::string names;
    for (const auto& channel : recording.channels)
        names += (names.empty() ? "\"" : ", \"") + channel.name + "\"";
    for (const auto& empty : recording.empty_channels) names += ", \"" + empty + "\" without a number";
    throw Error(ErrorCode::unusable, recording.path,
                count == 0 ? "the recording holds no sampled channel"
                           : "no channel is in a unit of pressure, and there are several (" + names + ")",
                "name the transducer's channel with --channel, and kPa per recorded unit with --scale");
}

double factor(const Recording& recording, const Channel& channel, const PressureOptions& options) {
    if (options.scale) return *options.scale;
    const auto unit = find_unit(channel.unit);
    if (unit && unit->dimension == Dimension::pressure) return unit->factor;
    const std::string place = recording.path + ", channel \"" + channel.name + "\"";
    const std::string unit_words = recording.scaled_audio ? "fractions of full scale"
                                   : channel.unit.empty() ? "no unit"
                                                          : channel.unit;
    throw Error(ErrorCode::bad_option, place,
                "nothing says how many kPa the recorded values stand for (" + unit_words + ")",
                "give kPa per recorded unit with --scale (for audio: kPa at full scale), and what must be "
                "added after that with --offset");
}

void set_upright(Pressure& p) {
    if (!upside_down(p.kpa, p.rate_hz)) return;
    for (float& v : p.kpa) v = -v;
    p.notices.push_back({"reversed",
                         "The signal is upside down and was turned over; its zero is found again from the "
                         "level between strokes. Swap the leads, or give a negative --scale."});
}

/// Leaves what lies between --from and --to; returns which samples.
Span cut(Pressure& p, const PressureOptions& options, const std::string& place) {
    const auto sample = [&](double time_s) {
        const double at = std::ceil((time_s - p.start_s) * p.rate_hz - 1e-6);
        return static_cast<std::size_t>(std::clamp(at, 0.0, static_cast<double>(p.kpa.size())));
    };
    const std::size_t first = options.from_s ? sample(*options.from_s) : 0;
    const std::size_t last = options.to_s ? sample(*options.to_s) : p.kpa.size();
    if (first >= last || last - first < fewest_samples)
        throw Error(ErrorCode::unusable, place, "fewer than 50 samples are left to analyse",
                    "record for longer, or widen --from and --to");
    p.kpa.erase(p.kpa.begin() + static_cast<std::ptrdiff_t>(last), p.kpa.end());
    p.kpa.erase(p.kpa.begin(), p.kpa.begin() + static_cast<std::ptrdiff_t>(first));
    p.start_s += static_cast<double>(first) / p.rate_hz;
    return {first, last};
}

/// The parts of `spans` that were kept, counted from the first kept sample.
std::vector<Span> within(const std::vector<Span>& spans, Span kept) {
    std::vector<Span> inside;
    for (const Span& span : spans)
        if (span.last > kept.first && span.first < kept.last)
            inside.push_back(
                {std::max(span.first, kept.first) - kept.first, std::min(span.last, kept.last) - kept.first});
    return inside;
}

/// Spikes first: they would hide which way up the trace is, and that tells which end of the range clips.
void name_faults(Pressure& p, std::vector<Span> over_range) {
    bridge_lone(p, over_range);
    const std::size_t spikes = bridge_spikes(p);
    if (spikes > 0)
        p.notices.push_back({"spikes", fmt::format("{} spike{} bridged. Keep leads away from ignition "
                                                   "cables.",
                                                   spikes, spikes == 1 ? " was" : "s were")});
    set_upright(p);
    if (!over_range.empty() || flat_tops(p.kpa, p.rate_hz))
        p.notices.push_back({"clipped",
                             "The tops reach the end of the range, so the peaks are at least what is shown "
                             "and nothing is fitted to them. Choose a larger range and record again."});
    if (const auto from_s = stuck_from_s(p))
        p.notices.push_back(
            {"stuck", fmt::format("From {:.2f} s on the reading never changes: the engine stopped, or the "
                                  "transducer or its lead failed. Only what comes before counts.",
                                  *from_s)});
}

/// Undoes a first-order low-pass: the true value leads the reading by the time constant times its slope.
void take_lag_off(Pressure& p, double bandwidth_hz) {
    const double constant_s = 1 / (2 * pi * bandwidth_hz);
    p.lag_s = constant_s;
    // The slope over a quarter of the time constant on either side: no noisier than need be.
    const auto reach = static_cast<std::size_t>(std::max(1.0, std::round(constant_s * p.rate_hz / 4)));
    const std::vector<float> read = p.kpa;
    for (std::size_t i = reach; i + reach < read.size(); ++i)
        p.kpa[i] += static_cast<float>(constant_s * p.rate_hz / static_cast<double>(2 * reach) *
                                       static_cast<double>(read[i + reach] - read[i - reach]));
    p.notices.push_back(
        {"lag", fmt::format("The transducer's lag of {:.2g} ms ({:g} Hz) was corrected; uncorrected peaks "
                            "come that much later, and lower. A faster transducer needs no correction.",
                            1e3 * constant_s, bandwidth_hz)});
}

/// A rise that stays to the end of less than a cycle at 100 rpm may be a compression on which the crank
/// stopped.
constexpr double shortest_held_s = 1.2;

/// A gauge with a check valve: its puffs, if the trace holds any.
bool see_staircase(Pressure& p, PressureZero zero) {
    Staircase stairs = find_staircase(p.kpa, p.rate_hz);
    if (stairs.puffs_kpa.empty()) stairs = find_sinking_staircase(p.kpa, p.rate_hz);
    if (stairs.puffs_kpa.empty()) return false;
    const double recorded_s = static_cast<double>(p.kpa.size()) / p.rate_hz;
    if (stairs.puffs_kpa.size() == 1 && recorded_s < shortest_held_s) return false;
    p.kind = PressureKind::staircase;
    p.gauge = zero == PressureZero::gauge ||
              (zero == PressureZero::automatic &&
               std::abs(stairs.start_kpa) < std::abs(stairs.start_kpa - p.ambient_kpa));
    p.puffs_kpa_gauge = std::move(stairs.puffs_kpa);
    p.puffs_stood = stairs.stood;
    p.gauge_reading_kpa = *std::max_element(p.puffs_kpa_gauge.begin(), p.puffs_kpa_gauge.end());
    p.first_pulse_ratio = p.puffs_kpa_gauge.front() / *p.gauge_reading_kpa;
    if (stairs.sag_ratio > most_sag_ratio)
        p.notices.push_back(
            {"check-valve-leaks",
             fmt::format("The gauge rises with each compression and sinks between them, by up to {:.0f} % of "
                         "its reading: its check valve does not hold, so it reads low. Clean or replace the "
                         "valve and record again.",
                         100 * stairs.sag_ratio)});
    if (std::abs(stairs.start_kpa) > near_zero_kpa &&
        std::abs(stairs.start_kpa - p.ambient_kpa) > near_zero_kpa)
        p.inconclusive = fmt::format(
            "the gauge starts at {:.0f} kPa, not at 0: press its valve before cranking and record from "
            "before the first puff on, or correct its zero with --offset",
            stairs.start_kpa);
    return true;
}

/// Proportions of car, truck and small engines (from memory).
constexpr double least_rod_ratio = 1.2, most_rod_ratio = 2.6, least_bore_ratio = 0.5, most_bore_ratio = 2;

/// Names dimensions that no engine has together: two of them swapped, or one of another unit.
void see_proportions(Pressure& p, const PressureOptions& options) {
    if (!options.stroke_m) return;
    const auto see = [&](const char* names, std::optional<double> length_m, double least, double most) {
        const double ratio = length_m.value_or(0) / *options.stroke_m;
        if (!length_m || (ratio >= least && ratio <= most)) return;
        p.notices.push_back(
            {"odd-proportions",
             fmt::format("{} is {:.2f}, and engines have {:g} to {:g}: check whether two dimensions were "
                         "swapped, and that all are in mm.",
                         names, ratio, least, most)});
    };
    see("--rod over --stroke", options.rod_m, least_rod_ratio, most_rod_ratio);
    see("--bore over --stroke", options.bore_m, least_bore_ratio, most_bore_ratio);
}

void see_zero(Pressure& p, const PressureOptions& options) {
    const double rest = signal::quantile(p.kpa, 0.5);
    const bool looks_gauge = std::abs(rest) < near_zero_kpa;
    const bool looks_absolute = std::abs(rest - p.ambient_kpa) < near_zero_kpa;
    p.gauge = options.zero == PressureZero::gauge ||
              (options.zero == PressureZero::automatic && std::abs(rest) < std::abs(rest - p.ambient_kpa));
    if (options.zero == PressureZero::automatic && !looks_gauge && !looks_absolute)
        p.notices.push_back(
            {"zero-unknown",
             fmt::format("Between strokes the transducer reads {:.0f} kPa, neither 0 (gauge) nor ambient "
                         "(absolute): its zero is taken from there. Zero it, or give --offset.",
                         rest)});
    if ((options.zero == PressureZero::gauge && !looks_gauge && looks_absolute) ||
        (options.zero == PressureZero::absolute && !looks_absolute && looks_gauge)) {
        const bool said_gauge = options.zero == PressureZero::gauge;
        p.notices.push_back(
            {"zero-contradicts",
             fmt::format(
                 "The readings are said to be {}, but between strokes they are at {:.0f} kPa, as {} readings "
                 "do: check --gauge and --absolute. The sensor offset absorbs the difference.",
                 said_gauge ? "gauge" : "absolute", rest, said_gauge ? "absolute" : "gauge")});
    }
}

}  // namespace

Pressure prepare(const Recording& recording, const PressureOptions& options) {
    if (recording.channels.empty())
        throw Error(ErrorCode::unusable, recording.path, "the recording holds no channel",
                    "record the pressure transducer");
    Pressure p;
    const Channel& channel = recording.channels[choose(recording, options, p.notices)];
    const std::string place = recording.path + ", channel \"" + channel.name + "\"";
    if (channel.values.empty())
        throw Error(ErrorCode::unusable, place, "this channel holds edges, not a sampled pressure",
                    "choose another --channel");
    p.channel = channel.name;
    p.unit = channel.unit;
    p.rate_hz = recording.rate_hz;
    p.start_s = recording.start_s;
    p.kpa = scaled(channel.values, factor(recording, channel, options), options.offset_kpa, place,
                   "give --scale in units per recorded unit, and --offset in kPa");
    const Span kept = cut(p, options, place);
    p.bridged = within(channel.gaps, kept);
    const auto [low, high] = std::minmax_element(p.kpa.begin(), p.kpa.end());
    if (*low == *high)
        throw Error(ErrorCode::unusable, place, fmt::format("the pressure never changes ({:g} kPa)", *low),
                    "check the transducer's supply and lead, or choose another --channel");
    name_faults(p, within(channel.clipped, kept));
    if (options.bandwidth_hz) take_lag_off(p, *options.bandwidth_hz);
    p.ambient_kpa = options.altitude_m ? ambient_at_kpa(*options.altitude_m) : usual_ambient_kpa;
    if (see_staircase(p, options.zero)) return p;
    see_zero(p, options);
    see_proportions(p, options);
    return p;
}

}  // namespace pressure
}  // namespace evenstroke
