#include "angle/wheel_fit.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "angle/wheel_candidates.hpp"

namespace evenstroke {

namespace {

/// Speed changes less than this from tooth to tooth, on average, when the pattern is the right one …
constexpr double most_roughness = 0.12;
/// … and any other pattern is rougher by this factor.
constexpr double least_contrast = 1.25;
/// A pattern that fits as it is may be rougher (a light crank at low speed) and less of a contrast to those
/// that need many repairs to fit: its gap came at the right tooth in every turn, of so many at least.
constexpr double most_roughness_unrepaired = 0.16;
constexpr double least_contrast_unrepaired = 1.1;
constexpr double least_turns_unrepaired = 4;
/// Where marks return with every turn, which no rough signal imitates, the pattern may be rougher still: on a
/// coarse wheel a compression lasts but a few teeth.
constexpr double most_roughness_shown = 0.22;
/// A rival needs more than this multiple of its repairs, one added.
constexpr int repairs_ratio = 3;
/// At most one repaired tooth in so many.
constexpr double most_repairs = 0.03;
/// A gap is as wide as the pattern says while its speed strays by less than this, as a logarithm, from that
/// beside it: half of what a gap of two pitches taken for three does (ln 1.5) …
constexpr double gap_step = 0.2;
/// … in all but this share of the turns. Where 12-1 is laid over 24-2, the gap is wrong in half of them.
constexpr double most_wrong_gaps = 0.25;
/// A wheel with one tooth more or fewer than the pattern needs a repair in every turn; a fault of the signal
/// comes in fewer than this.
constexpr double most_repairs_a_turn = 0.75;
/// A gap of another width is rougher by this factor.
constexpr double least_width_contrast = 1.04;
/// A gap that the pattern lacks strays by ln 2 = 0.69, an extra tooth half-way by half of that and by twice
/// that in two periods; compressions by less than this.
constexpr double unexplained_step = 0.4;

/// How far the mean speed from the tooth before to tooth `i` strays from those beside it, as a logarithm.
double speed_strays(const WheelTeeth& teeth, std::size_t i) {
    const auto speed = [&teeth](std::size_t k) {
        return (teeth.angle_deg[k] - teeth.angle_deg[k - 1]) / (teeth.time_s[k] - teeth.time_s[k - 1]);
    };
    return std::abs(stray(speed(i - 1), speed(i), speed(i + 1)));
}

/// Whether `best`, the smoothest, is the pattern rather than `rival`.
bool stands(const WheelFit& best, const WheelFit& rival) {
    if (best.roughness < most_roughness && rival.roughness > least_contrast * best.roughness) return true;
    return best.turns() >= least_turns_unrepaired && best.roughness < most_roughness_unrepaired &&
           rival.roughness > least_contrast_unrepaired * best.roughness &&
           rival.repairs() > repairs_ratio * (best.repairs() + 1);
}

/// Whether a wheel that the marks show is the pattern rather than `rival`. One that they rule out is no more
/// than a measure of how smooth a wrong wheel can be: an even wheel has no marks, and 36-2 laid over 18-1 has
/// too wide a gap.
bool stands_as_shown(const WheelFit& shown, const WheelFit& rival) {
    if (rival.pattern.text == shown.pattern.text || stands(shown, rival)) return true;
    const bool rougher = rival.roughness > least_contrast_unrepaired * shown.roughness;
    if (rival.pattern.text.ends_with("-0")) return rougher;
    if (as_drawn(rival)) return false;
    // With as many teeth from gap to gap it is as smooth: 60-2 laid over 59-1. The width tells them apart.
    return rougher || rival.pattern.pitch_deg.size() == shown.pattern.pitch_deg.size();
}

/// Whether no tooth strays in every turn but where the pattern has its mark. 34-2 laid over 36-2-2 has each
/// second gap right.
bool explained(const WheelFit& shown) {
    int strays = 0;
    for (std::size_t i = 2; i + 1 < shown.teeth.time_s.size(); ++i)
        if (speed_strays(shown.teeth, i) > unexplained_step) ++strays;
    return strays <= most_repairs_a_turn * shown.turns();
}

/// Whether a gap of one tooth more or fewer fits clearly worse. A sensor's voltage crosses zero in the middle
/// of a tooth, but anywhere in a gap, so that one kind of edge shows 36-3 as 35-2, and nearly as smooth.
bool as_wide(std::span<const Edge> edges, const WheelFit& shown) {
    const auto pitches = shown.pattern.pitch_deg;
    if (shown.pattern.text.find('+') != std::string::npos) return true;
    const auto missing = static_cast<int>(std::lround(pitches.back() / pitches.front())) - 1;
    const auto teeth = static_cast<int>(pitches.size());
    for (const int other : {missing - 1, missing + 1}) {
        if (other < 1) continue;
        const auto rival = laid(edges, fmt::format("{}-{}", teeth + other, other));
        if (rival && rival->teeth.roughness < least_width_contrast * shown.roughness) return false;
    }
    return true;
}

}  // namespace

std::optional<WheelFit> laid(std::span<const Edge> edges, const std::string& text) {
    const WheelPattern pattern = parse_wheel(text);
    const auto teeth = align_teeth(edges, pattern);
    if (!teeth) return {};
    WheelFit fit{pattern, *teeth, teeth->roughness};
    if (fit.turns() < 2 - 1e-6) return {};
    if (fit.repairs() > most_repairs * static_cast<double>(teeth->time_s.size())) fit.roughness += 10;
    return fit;
}

bool clear(const WheelFit& best, std::span<const WheelFit> rivals) {
    return best.roughness < (rivals.empty() ? most_roughness : most_roughness_unrepaired) &&
           std::all_of(rivals.begin(), rivals.end(),
                       [&best](const WheelFit& rival) { return stands(best, rival); });
}

bool as_drawn(const WheelFit& fit) {
    if (fit.repairs() > most_repairs_a_turn * fit.turns()) return false;
    const WheelTeeth& teeth = fit.teeth;
    const double gap_deg = *std::max_element(fit.pattern.pitch_deg.begin(), fit.pattern.pitch_deg.end());
    int gaps = 0;
    int wrong = 0;
    for (std::size_t i = 2; i + 1 < teeth.time_s.size(); ++i) {
        if (std::abs(teeth.angle_deg[i] - teeth.angle_deg[i - 1] - gap_deg) > 1e-6) continue;  // or repaired
        ++gaps;
        if (speed_strays(teeth, i) > gap_step) ++wrong;
    }
    return wrong <= most_wrong_gaps * gaps;
}

bool clear_as_shown(std::span<const Edge> edges, const WheelFit& shown, std::span<const WheelFit> rivals) {
    return shown.turns() >= least_turns_unrepaired && shown.roughness < most_roughness_shown &&
           as_drawn(shown) && explained(shown) && as_wide(edges, shown) &&
           std::all_of(rivals.begin(), rivals.end(),
                       [&shown](const WheelFit& rival) { return stands_as_shown(shown, rival); });
}

}  // namespace evenstroke
