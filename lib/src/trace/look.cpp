#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "coupling.hpp"
#include "evenstroke/trace.hpp"
#include "evenstroke/units.hpp"
#include "pressure_shape.hpp"
#include "rest.hpp"
#include "signal/flyback.hpp"
#include "signal/levels.hpp"
#include "signal/periodicity.hpp"
#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

/// More marks a second than this come from a toothed wheel: even twelve compressions a cycle at 400 rpm are
/// only 40.
constexpr double wheel_marks_hz = 45;
/// One turn of a fine wheel, some of a coarse one: so many marks have a pace of their own.
constexpr std::size_t least_paced_marks = 60;
/// Teeth follow one another at much the same pace: so many of the periods differ by less than this from the
/// one before.
constexpr double regular_share = 0.6;
constexpr double regular_log_ratio = 0.35;
/// A two-level signal spends less than this share of its time between the levels.
constexpr double most_between_ratio = 0.05;
/// … and than this beside the rarer level: a short cranking in a long recording is rare too, but never flat.
constexpr double most_edge_ratio = 0.3;
/// Shortest and longest time between compression events while cranking: 16 cylinders at 450 rpm, 1 at 45 rpm.
constexpr double shortest_event_s = 0.016;
constexpr double longest_event_s = 2.7;
/// What repeats less regularly than this does not repeat.
constexpr double least_correlation = 0.3;
/// A resting level this large beside the excursion is a source's own voltage, not a clamp's zero.
constexpr double source_ratio = 0.3;

/// A starter's current settles within these shares of its inrush.
constexpr double least_settled_ratio = 0.05;
constexpr double most_settled_ratio = 0.75;

bool has_dimension(const Channel& channel, Dimension dimension) {
    const auto unit = find_unit(channel.unit);
    return unit && unit->dimension == dimension;
}

/// Battery voltage at rest, for the 6, 12 and 24 V systems, in volts.
bool battery_level(double volts) {
    return (volts > 5.5 && volts < 16) || (volts > 20 && volts < 32);
}

void look_at_edges(const Channel& channel, double duration_s, ChannelLook& look) {
    look.edges = channel.edges.size();
    look.highest = 1;
    const double marks_hz = duration_s > 0 ? static_cast<double>(look.edges) / 2 / duration_s : 0;
    if (look.edges < 4) {
        look.quantity = Quantity::steady;
        look.confidence_ratio = 0.9;
        look.reason = look.edges == 0 ? "never changes" : "hardly ever changes";
        return;
    }
    look.quantity = Quantity::wheel;  // the busiest edge channel; look() turns the others into syncs
    look.confidence_ratio = 0.5;
    look.reason = fmt::format("{} transitions, {:.0f} marks per second on average", look.edges, marks_hz);
}

std::vector<double> rises_of(const std::vector<Edge>& edges) {
    std::vector<double> rises_s;
    for (const Edge& edge : edges)
        if (edge.rising) rises_s.push_back(edge.time_s);
    return rises_s;
}

/// True when most marks follow one another at an even pace, as teeth do and noise does not.
bool regular(const std::vector<double>& rises_s) {
    if (rises_s.size() < 3) return false;
    std::size_t alike = 0;
    for (std::size_t i = 2; i < rises_s.size(); ++i) {
        const double ratio = (rises_s[i] - rises_s[i - 1]) / (rises_s[i - 1] - rises_s[i - 2]);
        if (std::abs(std::log(ratio)) < regular_log_ratio) ++alike;
    }
    return static_cast<double>(alike) > regular_share * static_cast<double>(rises_s.size() - 2);
}

/// Marks a second while they come: a rest before and after them does not count. Of a few, over all the time.
double pace_hz(const std::vector<double>& rises_s, double duration_s) {
    if (rises_s.size() < least_paced_marks)
        return duration_s > 0 ? static_cast<double>(rises_s.size()) / duration_s : 0.0;
    std::vector<double> periods_s;
    for (std::size_t i = 1; i < rises_s.size(); ++i) periods_s.push_back(rises_s[i] - rises_s[i - 1]);
    return 1 / signal::median(std::move(periods_s));
}

/// A channel that jumps between two levels, or swings about its middle faster than any compression does.
bool look_for_marks(const Channel& channel, double rate_hz, double duration_s, ChannelLook& look) {
    const auto values = signal::without_flyback(channel.values, rate_hz);
    const auto levels = signal::two_levels(values);
    const auto edges = signal::crossings(values, levels, rate_hz, 0);
    look.edges = edges.size();
    const std::vector<double> rises_s = rises_of(edges);
    const double marks_hz = pace_hz(rises_s, duration_s);
    const bool square = levels.between_ratio < most_between_ratio && levels.edge_ratio < most_edge_ratio;
    if (has_dimension(channel, Dimension::current)) return false;
    if (marks_hz > wheel_marks_hz && regular(rises_s)) {
        look.quantity = Quantity::wheel;
        look.confidence_ratio = square ? 0.8 : 0.6;
        look.reason = fmt::format("{:.0f} marks per second: a toothed wheel", marks_hz);
        return true;
    }
    if (!square || edges.size() < 4 || marks_hz > wheel_marks_hz) return false;
    look.quantity = Quantity::sync;
    look.confidence_ratio = 0.9;
    look.reason = fmt::format("{} marks, {:.2f} per second", (edges.size() + 1) / 2, marks_hz);
    return true;
}

/// How regularly so many thirds of the channel from the second on repeat, 0 to 1.
double ripple_correlation(const Channel& channel, double rate_hz, std::size_t thirds) {
    const std::size_t third = channel.values.size() / 3;
    const auto busy = std::span(channel.values).subspan(third, thirds * third);
    const auto repeat = signal::strongest_repeat(busy, rate_hz, shortest_event_s, longest_event_s);
    return repeat ? std::clamp(repeat->correlation, 0.0, 1.0) : 0.0;
}

/// `value` with the channel's unit, to a hundredth of `top`: a person compares these, and nothing is worked
/// out with them.
std::string as_read(double value, double top, const Channel& channel) {
    const double magnitude = std::abs(top) > 0 ? std::floor(std::log10(std::abs(top))) : 0;
    const int decimals = static_cast<int>(std::clamp(2 - magnitude, 0.0, 6.0));
    const double scale = std::pow(10.0, decimals);
    const double rounded = std::round(value * scale) / scale + 0.0;  // no "-0"
    // A unit that is not known may be any text of the file's.
    return fmt::format("{:.{}f}{}", rounded, decimals, find_unit(channel.unit) ? " " + channel.unit : "");
}

void look_at_load(const Channel& channel, double rate_hz, const trace::Rest& rest, ChannelLook& look) {
    const double level = rest.level();
    const double excursion = rest.active - level;
    const double ripple = ripple_correlation(channel, rate_hz, 1);
    const bool volts = has_dimension(channel, Dimension::voltage);
    const bool towards_zero = excursion * level < 0 && std::abs(excursion) < std::abs(level);
    bool voltage = false;
    if (has_dimension(channel, Dimension::current))
        voltage = false;
    else if (rest.known())
        voltage = towards_zero && std::abs(level) > source_ratio * std::abs(excursion) &&
                  (!volts || battery_level(std::abs(level)));
    else
        voltage = volts &&
                  battery_level(std::abs(rest.active) * 1.2);  // cranking takes about a sixth of the voltage
    const double settled_ratio = excursion / rest.extreme;
    look.inrush = rest.known() && settled_ratio > least_settled_ratio && settled_ratio < most_settled_ratio;
    // A current or a battery's dips without the level that they come from: the first excursion tells which.
    const trace::Coupling coupling = voltage ? trace::find_voltage_coupling(channel.values, rate_hz, false)
                                             : trace::find_coupling(channel.values, rate_hz);
    look.zero_lost = coupling.zero_lost;
    voltage = voltage || (volts && coupling.zero_lost && coupling.sign < 0);
    look.quantity = voltage ? Quantity::voltage : Quantity::current;
    look.confidence_ratio = 0.3 + (rest.known() ? 0.3 : 0.0) + 0.4 * ripple;
    if (!rest.known())
        look.reason = fmt::format("near {} with a ripple, no rest before or after",
                                  as_read(rest.active, rest.active, channel));
    else {
        const double top = std::max(std::abs(level), std::abs(level + rest.extreme));
        look.reason = fmt::format("rests at {}, goes to {} and settles near {} with a ripple",
                                  as_read(level, top, channel), as_read(level + rest.extreme, top, channel),
                                  as_read(rest.active, top, channel));
    }
    if (look.zero_lost) look.reason += ", its zero lost (AC-coupled?)";
    if (!rest.known() && ripple < least_correlation) {
        // Amperes say what it is all the same; a slow crank repeats too seldom to be seen.
        if (!has_dimension(channel, Dimension::current)) look.quantity = Quantity::unknown;
        look.confidence_ratio = 0.2;
        look.reason = "neither rests nor repeats";
    }
}

ChannelLook look_at(const Channel& channel, double rate_hz, double duration_s) {
    ChannelLook look;
    if (!channel.edges.empty() || channel.values.empty()) {
        look_at_edges(channel, duration_s, look);
        return look;
    }
    const auto [lowest, highest] = std::minmax_element(channel.values.begin(), channel.values.end());
    look.lowest = static_cast<double>(*lowest);
    look.highest = static_cast<double>(*highest);
    double sum = 0;
    for (const float v : channel.values) sum += static_cast<double>(v);
    look.mean = sum / static_cast<double>(channel.values.size());
    if (!(look.highest > look.lowest)) {
        look.quantity = Quantity::steady;
        look.confidence_ratio = 1;
        look.reason = "constant";
        return look;
    }
    if (has_dimension(channel, Dimension::pressure)) {
        look.quantity = Quantity::pressure;
        look.confidence_ratio = 0.9;
        look.reason = fmt::format("recorded in {}", channel.unit);
        return look;
    }
    if (const auto unit = find_unit(channel.unit);
        unit && unit->dimension != Dimension::current && unit->dimension != Dimension::voltage) {
        look.confidence_ratio = 0.9;
        look.reason = fmt::format("recorded in {}", channel.unit);
        return look;
    }
    if (look_for_marks(channel, rate_hz, duration_s, look)) return look;
    const trace::Rest rest = trace::find_rest(channel.values, rate_hz);
    const bool amperes = has_dimension(channel, Dimension::current);
    if (!amperes &&
        trace::brief_pulses(channel.values, rate_hz,
                            rest.known() ? std::optional(rest.level()) : std::nullopt) &&
        ripple_correlation(channel, rate_hz, 2) > least_correlation) {  // one cylinder fires rarely
        look.quantity = Quantity::pressure;
        look.confidence_ratio = 0.5;
        look.reason = "brief pulses that repeat, and level between them";
        return look;
    }
    look_at_load(channel, rate_hz, rest, look);
    return look;
}

/// Among edge channels only the busiest is the wheel; the others mark the cycle.
void keep_one_wheel(const Recording& recording, std::vector<ChannelLook>& looks) {
    std::size_t busiest = looks.size();
    for (std::size_t i = 0; i < looks.size(); ++i)
        if (!recording.channels[i].edges.empty() &&
            (busiest == looks.size() || looks[i].edges > looks[busiest].edges))
            busiest = i;
    for (std::size_t i = 0; i < looks.size(); ++i) {
        if (recording.channels[i].edges.empty() || i == busiest || looks[i].quantity != Quantity::wheel)
            continue;
        looks[i].quantity = Quantity::sync;
        looks[i].reason += ", fewer than another channel's";
    }
}

}  // namespace

const char* name(Quantity quantity) {
    switch (quantity) {
        case Quantity::current:
            return "current";
        case Quantity::voltage:
            return "voltage";
        case Quantity::wheel:
            return "wheel";
        case Quantity::pressure:
            return "pressure";
        case Quantity::sync:
            return "sync";
        case Quantity::steady:
            return "steady";
        case Quantity::unknown:
            break;
    }
    return "unknown";
}

std::vector<ChannelLook> look(const Recording& recording) {
    std::vector<ChannelLook> looks;
    looks.reserve(recording.channels.size());
    for (const Channel& channel : recording.channels)
        looks.push_back(look_at(channel, recording.rate_hz, recording.duration_s));
    keep_one_wheel(recording, looks);
    return looks;
}

}  // namespace evenstroke
