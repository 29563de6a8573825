// What the user writes of a wheel, to pitches.
#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numeric>
#include <optional>
#include <string_view>

#include "angle/wheel.hpp"
#include "evenstroke/angle.hpp"

namespace evenstroke {

namespace {

/// More teeth than any crank wheel has; guards against a slip of the keyboard.
constexpr int most_teeth = 720;
/// Pitches whose sum is a turn within this are taken as degrees.
constexpr double sum_tolerance_deg = 0.5;
/// Finer than any crank wheel with uneven teeth.
constexpr double least_pitch_deg = 3.5;

[[noreturn]] void refuse(const std::string& text, const std::string& problem) {
    throw Error(ErrorCode::bad_option, "--wheel " + text, problem,
                "write positions-missing (60-2, 36-1, 24-0, 36-2-2-2 for three gaps evenly spread), "
                "even+extra (12+1), or the degrees from each tooth to the next (70,110,70,110; 10x9,30 "
                "repeats a pitch nine times and the list until the turn is full)");
}

std::optional<double> number(std::string_view text) {
    double value = 0;
    const auto end = std::from_chars(text.data(), text.data() + text.size(), value);
    if (end.ec != std::errc{} || end.ptr != text.data() + text.size() || !std::isfinite(value)) return {};
    return value;
}

std::vector<std::string_view> split(std::string_view text, char separator) {
    std::vector<std::string_view> parts;
    while (true) {
        const auto at = text.find(separator);
        parts.push_back(text.substr(0, at));
        if (at == std::string_view::npos) return parts;
        text.remove_prefix(at + 1);
    }
}

int whole(const std::string& text, std::string_view part, int least, int most) {
    const auto value = number(part);
    if (!value || *value != std::floor(*value))
        refuse(text, fmt::format("\"{}\" is not a whole number", part));
    if (*value < least || *value > most)
        refuse(text, fmt::format("{} is not between {} and {}", part, least, most));
    return static_cast<int>(*value);
}

/// 60-2: 60 even positions of which 2 neighbours are missing; more than one gap is spread evenly.
std::vector<double> with_gaps(const std::string& text) {
    const auto parts = split(text, '-');
    const int positions = whole(text, parts[0], 1, most_teeth);
    const auto gaps = static_cast<int>(parts.size()) - 1;
    if (positions % gaps != 0)
        refuse(text, fmt::format("{} gaps do not spread evenly through {} positions", gaps, positions));
    const double pitch = turn_deg / positions;
    std::vector<double> pitches;
    for (int gap = 0; gap < gaps; ++gap) {
        const int missing = whole(text, parts[static_cast<std::size_t>(gap + 1)], 0, most_teeth);
        const int teeth = positions / gaps - missing;
        if (teeth < 1) refuse(text, "no tooth would be left between the gaps");
        pitches.insert(pitches.end(), static_cast<std::size_t>(teeth - 1), pitch);
        pitches.push_back(pitch * (missing + 1));
    }
    return pitches;
}

/// 12+1: even teeth and one more, a third of the way to the next; alignment also tries other places.
std::vector<double> with_extra(const std::string& text) {
    const auto parts = split(text, '+');
    if (parts.size() != 2) refuse(text, "one '+' is expected");
    const int even = whole(text, parts[0], 2, most_teeth);
    (void)whole(text, parts[1], 1, 1);
    const double pitch = turn_deg / even;
    std::vector<double> pitches(static_cast<std::size_t>(even - 1), pitch);
    pitches.push_back(pitch / 3);
    pitches.push_back(pitch * 2 / 3);
    return pitches;
}

std::vector<double> from_list(const std::string& text) {
    std::vector<double> pitches;
    for (const auto part : split(text, ',')) {
        const auto factors = split(part, 'x');
        const auto pitch = number(factors[0]);
        if (!pitch || !(*pitch > 0) || factors.size() > 2)
            refuse(text, fmt::format("\"{}\" is not a pitch in degrees", part));
        const int times = factors.size() == 2 ? whole(text, factors[1], 1, most_teeth) : 1;
        pitches.insert(pitches.end(), static_cast<std::size_t>(times), *pitch);
        if (pitches.size() > static_cast<std::size_t>(most_teeth)) refuse(text, "too many teeth");
    }
    const double sum = std::accumulate(pitches.begin(), pitches.end(), 0.0);
    const double smallest = *std::min_element(pitches.begin(), pitches.end());
    // Pitches too small for degrees are multiples of one another: "1,1,1,3" fills one turn.
    const double repeats = smallest < least_pitch_deg ? 1 : std::round(turn_deg / sum);
    if (smallest >= least_pitch_deg &&
        (repeats < 1 || std::abs(sum * repeats - turn_deg) > sum_tolerance_deg * repeats))
        refuse(text, fmt::format("the pitches sum to {:g} degrees, which does not divide a turn", sum));
    const std::vector<double> once = pitches;
    for (int i = 1; i < static_cast<int>(repeats); ++i)
        pitches.insert(pitches.end(), once.begin(), once.end());
    for (double& pitch : pitches) pitch *= turn_deg / (sum * repeats);
    constexpr double finest_deg = turn_deg / most_teeth * 0.999;  // room for rounding
    for (const double pitch : pitches)
        if (!(pitch >= finest_deg && pitch <= turn_deg))
            refuse(text, fmt::format("{:g} degrees would part two of the teeth", pitch));
    return pitches;
}

}  // namespace

WheelPattern parse_wheel(const std::string& text) {
    std::string bare;
    for (const char c : text)
        if (c != ' ') bare += c == '*' || c == 'X' ? 'x' : c;
    if (bare.empty()) refuse(text, "the pattern is empty");
    WheelPattern pattern;
    pattern.text = bare;
    if (bare.find(',') != std::string::npos)
        pattern.pitch_deg = from_list(bare);
    else if (bare.find('+') != std::string::npos)
        pattern.pitch_deg = with_extra(bare);
    else if (bare.find('-') != std::string::npos)
        pattern.pitch_deg = with_gaps(bare);
    else
        refuse(text, "the number of missing teeth is not given");
    return pattern;
}

}  // namespace evenstroke
