#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <utility>

#include "clean.hpp"
#include "coupling.hpp"
#include "evenstroke/trace.hpp"
#include "evenstroke/units.hpp"
#include "rest.hpp"
#include "signal/levels.hpp"
#include "values/scaled.hpp"
#include "values/words.hpp"

namespace evenstroke {

namespace {

/// A zero, drift or hum smaller than this share of the cranking level is not worth a word.
constexpr double worth_saying_ratio = 0.03;
/// Below this rate even a single cylinder's compression is drawn by a handful of samples.
constexpr double least_rate_hz = 100;

struct Choice {
    std::size_t channel = 0;
    Quantity quantity = Quantity::unknown;
    std::string why;
};

bool cranking_quantity(Quantity quantity) {
    return quantity == Quantity::current || quantity == Quantity::voltage || quantity == Quantity::wheel;
}

/// The inrush of even a motorcycle's starter; pumps, coils and injectors take less.
constexpr double least_inrush_a = 30;

/// Words by which people call a starter's current, and those of currents and voltages that are another's.
constexpr std::array current_words{"current",  "clamp",     "amp",     "amps",     "strom", "courant",
                                   "corrente", "corriente", "starter", "anlasser", "shunt"};
constexpr std::array other_words{"pump", "coil",    "map", "rail",   "injector",
                                 "inj",  "exhaust", "mic", "lambda", "pumpe"};
/// Another's too, but also how a starter's current was recorded: "Key-on current", "oil 20C".
constexpr std::array circumstance_words{"key", "ignition", "ign", "oil", "fuel"};
/// No other current is called so.
constexpr std::array starter_words{"starter", "cranking", "anlasser"};

template <typename Words>
bool any_word(const std::string& name, const Words& words) {
    std::string word;
    for (const char c : name + " ") {
        const auto byte = static_cast<unsigned char>(c);
        if (std::isalpha(byte) != 0)
            word += static_cast<char>(std::tolower(byte));
        else if (std::find(words.begin(), words.end(), std::exchange(word, {})) != words.end())
            return true;
    }
    return false;
}

/// Whether a current is a starter's by its name, its amperes or its shape.
bool of_a_starter(const Channel& channel, const ChannelLook& look) {
    if (any_word(channel.name, starter_words)) return true;
    if (any_word(channel.name, other_words)) return false;
    const auto unit = find_unit(channel.unit);
    const bool amperes = unit && unit->dimension == Dimension::current;
    const bool reaches =
        amperes && std::max(std::abs(look.highest), std::abs(look.lowest)) * unit->factor > least_inrush_a;
    if (reaches && look.inrush) return true;
    if (any_word(channel.name, circumstance_words)) return false;
    if (any_word(channel.name, current_words)) return true;
    return amperes ? reaches : look.inrush;
}

/// Current tells most, then voltage (the same ripple, smaller), then a wheel; least a trace that lost its
/// zero, or whose current is another consumer's.
double preference(const Channel& channel, const ChannelLook& look) {
    if (look.zero_lost) return 0;
    if (look.quantity == Quantity::current) return of_a_starter(channel, look) ? 3 : 0;
    return look.quantity == Quantity::voltage ? 2 : 1;
}

/// What follows "looks".
const char* looks_words(Quantity seen) {
    if (seen == Quantity::steady) return "constant";
    if (seen == Quantity::sync) return "like a sync";
    return seen == Quantity::pressure ? "like a pressure" : name(seen);
}

constexpr const char* pressure_remedy =
    "`evenstroke pressure` reads a transducer in one cylinder; for all cylinders record the starter's "
    "current";

bool recorded_in(const Channel& channel, Dimension dimension) {
    const auto unit = find_unit(channel.unit);
    return unit && unit->dimension == dimension;
}

/// The only one of `candidates` that may be a `load`, if there is just one: it is neither the sync nor in a
/// unit that such a load is not recorded in. A clamp's current may be in volts.
std::optional<Choice> only_load(const Recording& recording, const std::vector<ChannelLook>& looks,
                                std::vector<std::size_t> candidates, Quantity load,
                                std::optional<std::size_t> sync) {
    const auto other_unit = [&](std::size_t i) {
        const Channel& channel = recording.channels[i];
        const bool volts = recorded_in(channel, Dimension::voltage);
        const bool amperes = recorded_in(channel, Dimension::current);
        return channel.values.empty() ||
               (find_unit(channel.unit) && !volts && !(amperes && load == Quantity::current));
    };
    std::erase_if(candidates, [&](std::size_t i) { return i == sync || other_unit(i); });
    // A key that is turned again makes two levels of a battery's voltage, as marks are; but if another
    // channel looks like neither mark nor pulse, that is the load.
    if (candidates.size() > 1)
        std::erase_if(candidates, [&](std::size_t i) {
            return looks[i].quantity == Quantity::sync || looks[i].quantity == Quantity::pressure ||
                   looks[i].quantity == Quantity::wheel;
        });
    if (candidates.size() != 1) return {};
    return Choice{candidates[0], load,
                  sync ? "the only channel besides the sync" : "the only channel that is no mark"};
}

/// What the user's word makes of channels that do not look like it: the only one that moves, or that may be
/// such a load; or, for a wheel, the one that changes most often. None where that leaves a choice.
std::optional<Choice> by_word(const Recording& recording, const std::vector<ChannelLook>& looks,
                              Quantity quantity, std::optional<std::size_t> sync) {
    std::vector<std::size_t> moving;
    for (std::size_t i = 0; i < looks.size(); ++i)
        if (looks[i].quantity != Quantity::steady) moving.push_back(i);
    if (moving.size() == 1) return Choice{moving[0], quantity, "the only channel that changes"};
    if (quantity != Quantity::wheel) return only_load(recording, looks, moving, quantity, sync);
    std::erase_if(moving, [&](std::size_t i) {
        return looks[i].edges < 4 || recorded_in(recording.channels[i], Dimension::current) ||
               looks[i].quantity == Quantity::pressure;
    });
    if (moving.empty()) return {};
    const auto busiest = *std::max_element(moving.begin(), moving.end(), [&](std::size_t a, std::size_t b) {
        return looks[a].edges < looks[b].edges;
    });
    return Choice{busiest, quantity, "the channel that changes most often"};
}

Choice choose(const Recording& recording, const TraceOptions& options) {
    if (options.quantity && !cranking_quantity(*options.quantity))
        throw Error(ErrorCode::bad_option, "--quantity",
                    std::string("cranking is not judged from ") + name(*options.quantity),
                    "choose current, voltage or wheel; a pressure is measured with `evenstroke pressure`");
    if (options.channel) {
        const std::size_t at = find_channel(recording, *options.channel);
        if (options.quantity) return {at, *options.quantity, "named by the user"};
        const Quantity seen = look(recording)[at].quantity;
        if (cranking_quantity(seen)) return {at, seen, "named by the user"};
        throw Error(
            ErrorCode::unusable, recording.path + ", channel \"" + recording.channels[at].name + "\"",
            std::string("this channel looks ") + looks_words(seen) + ", not like an engine being cranked",
            seen == Quantity::pressure ? pressure_remedy
                                       : "choose another --channel (`evenstroke inspect` shows them), or "
                                         "give its kind with --quantity");
    }
    const auto looks = look(recording);
    const auto sync = options.sync ? std::optional(find_channel(recording, *options.sync)) : std::nullopt;
    std::size_t best = looks.size();
    double best_score = 0;
    for (std::size_t i = 0; i < looks.size(); ++i) {
        if (options.quantity ? looks[i].quantity != *options.quantity : !cranking_quantity(looks[i].quantity))
            continue;
        const double score = preference(recording.channels[i], looks[i]) + looks[i].confidence_ratio;
        if (best == looks.size() || score > best_score) {
            best = i;
            best_score = score;
        }
    }
    if (best < looks.size()) return {best, looks[best].quantity, looks[best].reason};
    if (options.quantity)
        if (const auto said = by_word(recording, looks, *options.quantity, sync)) return *said;
    std::string seen;
    for (std::size_t i = 0; i < looks.size(); ++i)
        seen +=
            fmt::format("{}{} \"{}\" {}", i ? ", " : "", i + 1, recording.channels[i].name, looks[i].reason);
    for (const std::string& empty : recording.empty_channels)
        seen += fmt::format("{}\"{}\" holds no numbers", seen.empty() ? "" : ", ", empty);
    const bool pressure = std::any_of(looks.begin(), looks.end(), [](const ChannelLook& look) {
        return look.quantity == Quantity::pressure;
    });
    throw Error(
        ErrorCode::unusable, recording.path, "no channel looks like an engine being cranked (" + seen + ")",
        pressure ? pressure_remedy
                 : std::string(recording.empty_channels.empty()
                                   ? ""
                                   : "check the probe and range of the channel without numbers and record "
                                     "again; or ") +
                       "name the channel with --channel and what it measures with --quantity current, "
                       "voltage or wheel");
}

/// Factor to A or V, and the unit that then holds.
std::pair<double, std::string> scaling(const Recording& recording, const Channel& channel, Quantity quantity,
                                       const TraceOptions& options) {
    const Dimension wanted = quantity == Quantity::voltage ? Dimension::voltage : Dimension::current;
    const char* symbol = wanted == Dimension::voltage ? "V" : "A";
    if (options.scale) return {*options.scale, symbol};
    const auto unit = find_unit(channel.unit);
    if (unit && unit->dimension == wanted) return {unit->factor, symbol};
    return {1.0, recording.scaled_audio ? std::string() : channel.unit};
}

/// Turns an upside-down signal over; returns the factor applied, 1 or -1.
double set_upright(Trace& trace, const trace::Rest& rest) {
    const double reach = rest.active - (trace.quantity == Quantity::voltage ? 0.0 : rest.level());
    if (reach >= 0) return 1;
    for (float& v : trace.values) v = -v;
    trace.notices.push_back(
        {"reversed",
         "The signal is upside down and was turned over. Next time reverse the clamp or swap the leads."});
    return -1;
}

/// Without its zero a trace is only turned the right way up; what stands in for the zero is no rest.
void mark_zero_lost(Trace& trace, const trace::Coupling& coupling) {
    for (float& v : trace.values)
        v = static_cast<float>(coupling.sign * (static_cast<double>(v) - coupling.level));
    if (trace.quantity == Quantity::voltage) {
        trace.zero_lost =
            "the battery's level is missing from the trace, and with it how much of the load the "
            "compressions make up: set the input to DC coupling and record the whole voltage again, from "
            "before the key is turned";
        trace.notices.push_back(
            {"zero-lost",
             "The voltage rests near zero, sinks there or goes through it, which no battery's does: the "
             "input was AC-coupled, or an offset was removed. Set the input to DC coupling, with the leads "
             "on the battery's posts. If it is the drop along a cable or a shunt, give --quantity current."});
        return;
    }
    trace.zero_lost =
        "the current's zero is lost, and with it how much of the load the compressions make up: set the "
        "input to DC coupling, use a clamp that measures DC, and record again from before the key is turned";
    trace.notices.push_back(
        {"zero-lost",
         "The current swings about its zero or undershoots it, which no starter does: the input was "
         "AC-coupled, or the clamp measures AC only. Set the input to DC coupling and use a DC clamp."});
}

/// What flows at rest is the clamp's error or, round the battery's cable, another consumer; which is not
/// seen.
Notice offset_notice(double level, const std::string& unit) {
    if (level < 0)
        return {"offset",
                fmt::format(
                    "The clamp's zero stood at {} {} and was subtracted. Zero the clamp before recording.",
                    plain(level, 3), unit)};
    return {"offset",
            fmt::format("At rest {} {} were recorded and subtracted: the clamp's zero was off, or another "
                        "consumer was on (glow plugs, lamps). Zero the clamp, and switch other loads off or "
                        "put the clamp on the starter's own cable.",
                        plain(level, 3), unit)};
}

Notice drift_notice(double drift, const std::string& unit) {
    return {"drift",
            fmt::format(
                "The level at rest moved by {} {} during the recording, and was corrected as an even drift "
                "of the clamp. If it drifts, let it warm up and zero it. If another consumer went {} "
                "instead (glow plugs, lamps), the correction is wrong: record again with other loads "
                "off, or with the clamp on the starter's own cable.",
                plain(drift, 3), unit, drift < 0 ? "off" : "on")};
}

/// Takes the clamp's zero off a current, and its drift where rest is seen on both sides.
void set_zero(Trace& trace, const trace::Rest& rest, double level_sign) {
    const double level = level_sign * rest.level();
    const double cranking = std::abs(rest.active - rest.level());
    if (!rest.known()) {
        trace.notices.push_back({"no-rest",
                                 "The recording shows no rest before or after cranking, so the clamp's zero "
                                 "is taken as recorded. Start recording before the key is turned."});
        return;
    }
    const bool both = rest.before && rest.after;
    const double drift = both ? level_sign * (*rest.after - *rest.before) : 0.0;
    const auto count = static_cast<double>(trace.values.size());
    for (std::size_t i = 0; i < trace.values.size(); ++i)
        trace.values[i] -= static_cast<float>(level + drift * static_cast<double>(i) / count);
    if (std::abs(level) > worth_saying_ratio * cranking)
        trace.notices.push_back(offset_notice(level, trace.unit));
    if (std::abs(drift) > worth_saying_ratio * cranking)
        trace.notices.push_back(drift_notice(drift, trace.unit));
}

void clean_hum(Trace& trace, const trace::Rest& rest) {
    if (!rest.known()) return;
    // The resting stretch: the leading (or trailing) samples that stay near rest.
    const double limit = 0.1 * std::abs(rest.extreme);
    const double level = trace.quantity == Quantity::voltage ? std::abs(rest.level()) : 0.0;
    const auto near_rest = [&](float v) { return std::abs(static_cast<double>(v) - level) < limit; };
    const auto values = std::span(trace.values);
    std::span<const float> quiet;
    if (rest.before)
        quiet = values.first(static_cast<std::size_t>(
            std::find_if_not(values.begin(), values.end(), near_rest) - values.begin()));
    else
        quiet = values.last(static_cast<std::size_t>(
            std::find_if_not(values.rbegin(), values.rend(), near_rest) - values.rbegin()));
    const trace::Hum hum = trace::find_hum(quiet, trace.rate_hz);
    if (!(hum.amplitude > 0) || hum.amplitude < worth_saying_ratio * std::abs(rest.active - rest.level()))
        return;
    trace::remove_hum(trace.values, trace.rate_hz, hum.frequency_hz);
    trace.notices.push_back(
        {"hum", fmt::format("Mains hum ({:.0f} Hz, {} {}) was filtered out. Keep leads away from "
                            "chargers and lamps, or run the scope from its battery.",
                            hum.frequency_hz, plain(hum.amplitude, 3), trace.unit)});
}

void name_clipping(Trace& trace) {
    if (trace.clipped.empty()) return;
    std::size_t samples = 0;
    for (const Span& span : trace.clipped) samples += span.last - span.first;
    trace.notices.push_back(
        {"clipped",
         fmt::format("The signal reached the end of its range {}, {} ms in all (first at {:.3f} s). "
                     "Choose a larger range and record again if the humps themselves are cut.",
                     counted(trace.clipped.size(), "times"),
                     plain(1e3 * static_cast<double>(samples) / trace.rate_hz, 3),
                     trace.time_s(trace.clipped.front().first))});
}

void merge_spans(std::vector<Span>& spans) {
    std::sort(spans.begin(), spans.end(), [](const Span& a, const Span& b) { return a.first < b.first; });
    std::vector<Span> merged;
    for (const Span& span : spans) {
        if (!merged.empty() && span.first <= merged.back().last)
            merged.back().last = std::max(merged.back().last, span.last);
        else
            merged.push_back(span);
    }
    spans = merged;
}

Trace load_trace(const Recording& recording, const Channel& channel, const Choice& choice,
                 const TraceOptions& options) {
    Trace trace{.channel = channel.name, .why = choice.why, .quantity = choice.quantity};
    trace.rate_hz = recording.rate_hz;
    trace.start_s = recording.start_s;
    trace.gaps = channel.gaps;
    trace.clipped = channel.clipped;
    const trace::Rest recorded = trace::find_rest(channel.values, recording.rate_hz);
    const auto found = trace::find_clipping(channel.values, !recorded.known() || recorded.extreme > 0,
                                            !recorded.known() || recorded.extreme < 0);
    trace.clipped.insert(trace.clipped.end(), found.begin(), found.end());
    merge_spans(trace.clipped);
    const auto [factor, unit] = scaling(recording, channel, choice.quantity, options);
    trace.unit = unit;
    trace.values = scaled(channel.values, factor, 0, recording.path + ", channel \"" + channel.name + "\"",
                          "give --scale in units per recorded unit");
    if (trace.unit != "A" && trace.unit != "V")
        trace.notices.push_back({"no-scale",
                                 "Nothing says how the signal scales, so it is shown in its recorded unit; "
                                 "contributions do not depend on it. Give --scale for amperes or volts."});
    else if (choice.quantity == Quantity::current && trace.unit == "V")
        trace.notices.push_back(
            {"no-scale",
             "The clamp is recorded in volts, so current is shown in volts; contributions "
             "do not depend on it. Give the clamp's amperes per volt with --scale."});
    const std::size_t spikes = trace::remove_spikes(trace.values);
    if (spikes > 0)
        trace.notices.push_back(
            {"spikes", fmt::format("{} of one to three samples {} bridged. Check the leads "
                                   "and keep them away from ignition cables.",
                                   counted(spikes, "spikes"), spikes == 1 ? "was" : "were")});
    const trace::Rest rest = trace::find_rest(trace.values, trace.rate_hz);
    const trace::Coupling coupling =
        trace.quantity == Quantity::current
            ? trace::find_coupling(trace.values, trace.rate_hz)
            : trace::find_voltage_coupling(trace.values, trace.rate_hz, trace.unit == "V");
    if (coupling.zero_lost) {
        mark_zero_lost(trace, coupling);
        name_clipping(trace);
        return trace;
    }
    const double sign = set_upright(trace, rest);
    if (trace.quantity == Quantity::current) set_zero(trace, rest, sign);
    clean_hum(trace, rest);
    name_clipping(trace);
    if (trace.rate_hz < least_rate_hz)
        trace.notices.push_back(
            {"rate-too-low",
             fmt::format(
                 "{:.3g} samples per second are too few to draw a compression. Record with 1 kHz or more.",
                 trace.rate_hz)});
    return trace;
}

}  // namespace

Trace pick(const Recording& recording, const TraceOptions& options) {
    if (recording.channels.empty())
        throw Error(ErrorCode::unusable, recording.path, "the recording holds no channel",
                    "record at least the starter current");
    const Choice choice = choose(recording, options);
    const Channel& channel = recording.channels[choice.channel];
    if (choice.quantity == Quantity::wheel) {
        Trace trace{.channel = channel.name, .why = choice.why, .quantity = choice.quantity};
        trace.unit = channel.edges.empty() ? channel.unit : "edges";
        trace.rate_hz = channel.edges.empty() ? recording.rate_hz : 0.0;
        trace.start_s = recording.start_s;
        trace.end_s = recording.start_s + recording.duration_s;
        trace.values = channel.values;
        trace.edges = channel.edges;
        trace.gaps = channel.gaps;
        trace.clipped = channel.clipped;
        return trace;
    }
    if (channel.values.empty())
        throw Error(ErrorCode::unusable, recording.path + ", channel \"" + channel.name + "\"",
                    "this channel holds edges, not a sampled signal",
                    "use --quantity wheel for it, or another --channel");
    return load_trace(recording, channel, choice, options);
}

}  // namespace evenstroke
