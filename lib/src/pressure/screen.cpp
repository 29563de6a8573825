#include "screen.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "signal/levels.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

/// A motored pulse falls at least as fast as it rises, since heat and mass are lost; a fired one keeps up.
constexpr double fired_width_ratio = 1.35;
/// … and stands above the motored ones by this factor.
constexpr double fired_height_ratio = 1.4;
/// Starters do not turn faster; the shortest cycle, s, is that of 600 rpm.
constexpr double shortest_cranked_cycle_s = 0.2;
/// Neighbours that alternate by more than this, in height or distance, are of two cylinders: the largest
/// alternation of one cylinder beside an odd neighbour is about a tenth.
constexpr double two_cylinders_ratio = 1.3;
constexpr std::size_t fewest_for_alternation = 4;
/// Staircase: levels are looked at over this time; a gauge holds, so it hardly ever falls.
constexpr double stair_s = 0.02;
constexpr double stair_fall_ratio = 0.1;
/// … and stands high for this share of the recording, where compressions stand for a tenth.
constexpr double least_held_ratio = 0.25;
/// A step is worth counting when it is this share of the whole climb.
constexpr double least_step_ratio = 0.02;

bool fired(const RoughPulse& pulse) {
    if (!pulse.fall_s) return false;
    return *pulse.fall_s - pulse.peak_s > fired_width_ratio * (pulse.peak_s - pulse.rise_s);
}

/// Mean of the odd over the even ones, or its inverse, when every neighbour differs in turn; else 1.
double alternation(const std::vector<double>& values) {
    if (values.size() < fewest_for_alternation) return 1;
    double even = 0, odd = 0;
    bool in_turn = true;
    for (std::size_t i = 0; i < values.size(); ++i) {
        (i % 2 == 0 ? even : odd) +=
            values[i] / static_cast<double>(i % 2 == 0 ? (values.size() + 1) / 2 : values.size() / 2);
        if (i >= 2) in_turn = in_turn && (values[i] - values[i - 1]) * (values[i - 1] - values[i - 2]) < 0;
    }
    return in_turn ? std::max(even / odd, odd / even) : 1;
}

}  // namespace

void screen(PulseTrain& train, Pressure& result) {
    if (train.pulses.empty()) {
        result.inconclusive =
            "no compression stands out: the trace never rises well above its level between strokes";
        return;
    }
    result.kind = PressureKind::motored;
    std::size_t burning = 0;
    double motored_height = 0;
    for (const auto& pulse : train.pulses)
        if (!fired(pulse)) motored_height = std::max(motored_height, pulse.peak - train.rest);
    for (const auto& pulse : train.pulses)
        burning += fired(pulse) || pulse.peak - train.rest > fired_height_ratio * motored_height;
    if (burning > 0 && burning == train.pulses.size()) {
        result.kind = PressureKind::fired;
        result.inconclusive =
            "the cylinder fires: its pressure stays up after the peak. Disable fuel and ignition and record "
            "it motored";
        return;
    }
    const auto first_fired = std::find_if(train.pulses.begin(), train.pulses.end(), fired);
    if (first_fired != train.pulses.end() && train.pulses.size() > 2) {
        const auto count = static_cast<std::size_t>(train.pulses.end() - first_fired);
        result.notices.push_back(
            {"fired", fmt::format("From {:.2f} s on the cylinder fires ({} pulse{}): only the motored ones "
                                  "before were used. Disable fuel and ignition.",
                                  first_fired->peak_s, count, count == 1 ? "" : "s")});
        train.pulses.erase(first_fired, train.pulses.end());
        if (train.pulses.empty()) {
            result.kind = PressureKind::fired;
            result.inconclusive = "the cylinder fires from the first pulse on: record it motored";
            return;
        }
    }
    std::vector<double> heights, gaps;
    for (std::size_t i = 0; i < train.pulses.size(); ++i) {
        heights.push_back(train.pulses[i].peak - train.rest);
        if (i > 0) gaps.push_back(train.pulses[i].peak_s - train.pulses[i - 1].peak_s);
    }
    if (!heights.empty() && heights.size() > fewest_for_alternation) heights.erase(heights.begin());
    if (alternation(heights) > two_cylinders_ratio || alternation(gaps) > two_cylinders_ratio) {
        result.inconclusive =
            "the pulses alternate as those of two cylinders do: connect the transducer to one cylinder alone";
        return;
    }
    if (gaps.empty()) {
        result.inconclusive = "only one compression was recorded: crank for at least four";
        return;
    }
    train.period_s = signal::median(gaps);
    if (*train.period_s < shortest_cranked_cycle_s)
        result.notices.push_back(
            {"fast", fmt::format("{:.0f} rpm is faster than a starter turns: the engine runs on its other "
                                 "cylinders, or is motored. Figures for cranking do not apply.",
                                 120 / *train.period_s)});
}

std::vector<double> staircase(const Pressure& p) {
    const auto block = static_cast<std::size_t>(std::max(1.0, stair_s * p.rate_hz));
    std::vector<double> level;
    for (std::size_t i = 0; i + block <= p.kpa.size(); i += block) {
        std::vector<double> part(p.kpa.begin() + static_cast<std::ptrdiff_t>(i),
                                 p.kpa.begin() + static_cast<std::ptrdiff_t>(i + block));
        level.push_back(signal::median(std::move(part)));
    }
    if (level.size() < 10) return {};
    const auto top = static_cast<std::size_t>(std::max_element(level.begin(), level.end()) - level.begin());
    const double climb = level[top] - level.front();
    if (!(climb > 0)) return {};
    const auto high =
        std::count_if(level.begin(), level.end(), [&](double v) { return v - level.front() > climb / 2; });
    if (static_cast<double>(high) < least_held_ratio * static_cast<double>(level.size())) return {};
    double fall = 0;
    for (std::size_t i = 1; i <= top; ++i) fall += std::max(0.0, level[i - 1] - level[i]);
    // After the last puff a gauge leaks down slowly, or is vented at once.
    if (fall > stair_fall_ratio * climb) return {};
    std::size_t held = 0;
    for (std::size_t i = 1; i <= top; ++i)
        held += std::abs(level[i] - level[i - 1]) < least_step_ratio / 4 * climb;
    if (held < top / 4 || top < 4) return {};
    std::vector<double> steps;
    double before = level.front();
    for (std::size_t i = 1; i <= top; ++i) {
        const bool flat = i == top || level[i + 1] - level[i] < least_step_ratio / 4 * climb;
        if (!flat || level[i] - before < least_step_ratio * climb) continue;
        steps.push_back(level[i] - level.front());
        before = level[i];
    }
    return steps;
}

}  // namespace evenstroke::pressure
