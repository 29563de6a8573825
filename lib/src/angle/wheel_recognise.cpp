// Which wheel is it, when the user did not say?
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string>

#include "angle/wheel.hpp"
#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

/// Wheels in common use that show themselves by a gap or an extra tooth, and any even one. Common practice,
/// no published list.
constexpr const char* even = "24-0";
constexpr std::array<const char*, 9> known = {"60-2", "36-1", "36-2", "36-2-2-2", "30-2",
                                              "24-1", "12-1", "12+1", even};
constexpr std::array<int, 7> even_teeth = {12, 24, 30, 36, 48, 60, 135};
/// Speed changes less than this from tooth to tooth, on average, when the pattern is the right one …
constexpr double most_roughness = 0.12;
/// … and any other pattern is rougher by this factor.
constexpr double least_contrast = 1.25;
/// A pattern that fits as it is may be rougher (a light crank at low speed) and less of a contrast to those
/// that need many repairs to fit: its gap came at the right tooth in every turn, of so many at least.
constexpr double most_roughness_unrepaired = 0.16;
constexpr double least_contrast_unrepaired = 1.1;
constexpr double least_turns_unrepaired = 4;
/// A rival needs more than this multiple of its repairs, one added.
constexpr int repairs_ratio = 3;
/// At most one repaired tooth in so many.
constexpr double most_repairs = 0.03;
/// Share of the speed's variation that the compressions' ripple must make up for an even wheel to be counted
/// by it.
constexpr double least_ripple_share = 0.5;

/// How much of the variance of `values` is a ripple of `period` samples.
double ripple_share(const std::vector<double>& values, double period) {
    const double centre = signal::mean(values);
    double cosine = 0;
    double sine = 0;
    double total = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double v = values[i] - centre;
        cosine += v * std::cos(2 * pi * static_cast<double>(i) / period);
        sine += v * std::sin(2 * pi * static_cast<double>(i) / period);
        total += v * v;
    }
    if (!(total > 0)) return 0;
    return 2 * (cosine * cosine + sine * sine) / (static_cast<double>(values.size()) * total);
}

/// An even wheel's teeth from the compressions: `cylinders` of them in two turns.
std::optional<WheelPattern> even_by_ripple(std::span<const Edge> edges, int cylinders) {
    if (cylinders < 2) return {};
    const auto teeth = align_teeth(edges, parse_wheel(even));
    if (!teeth || teeth->roughness > most_roughness || teeth->time_s.size() < 24) return {};
    const ToothSpeed speed = tooth_speed(teeth->time_s, teeth->angle_deg, false);
    // The later half: the run-up would drown the ripple.
    const std::vector<double> later(
        speed.rad_per_s.begin() + static_cast<std::ptrdiff_t>(speed.rad_per_s.size() / 2),
        speed.rad_per_s.end());
    int best = 0;
    double share = 0;
    for (const int count : even_teeth) {
        const double period = 2.0 * count / cylinders;
        if (period < 3 || 2 * period > static_cast<double>(later.size())) continue;
        const double found = ripple_share(later, period);
        if (found > share) {
            share = found;
            best = count;
        }
    }
    if (share < least_ripple_share) return {};
    return parse_wheel(fmt::format("{}-0", best));
}

struct Candidate {
    double roughness;
    const char* text;
    int repairs;
    double turns;
};

/// Whether `best`, the smoothest, is the pattern rather than `rival`.
bool stands(const Candidate& best, const Candidate& rival) {
    if (best.roughness < most_roughness && rival.roughness > least_contrast * best.roughness) return true;
    return best.turns >= least_turns_unrepaired && best.roughness < most_roughness_unrepaired &&
           rival.roughness > least_contrast_unrepaired * best.roughness &&
           rival.repairs > repairs_ratio * (best.repairs + 1);
}

}  // namespace

std::optional<WheelPattern> recognise_wheel(std::span<const Edge> edges, int cylinders) {
    // The even wheel stands among them: where no tooth is missing, a pattern with a gap fits no better.
    std::vector<Candidate> candidates;
    for (const char* text : known) {
        const auto teeth = align_teeth(edges, parse_wheel(text));
        if (!teeth) continue;
        const auto count = static_cast<double>(teeth->time_s.size());
        if (teeth->angle_deg.back() - teeth->angle_deg.front() < 720 - 1e-6) continue;
        const bool sound = teeth->missed + teeth->extra <= most_repairs * count;
        candidates.push_back({sound ? teeth->roughness : 10 + teeth->roughness, text,
                              teeth->missed + teeth->extra,
                              (teeth->angle_deg.back() - teeth->angle_deg.front()) / turn_deg});
    }
    std::sort(candidates.begin(), candidates.end(),
              [](const Candidate& a, const Candidate& b) { return a.roughness < b.roughness; });
    if (candidates.empty()) return even_by_ripple(edges, cylinders);
    const Candidate& best = candidates.front();
    const bool clear =
        best.roughness < (candidates.size() > 1 ? most_roughness_unrepaired : most_roughness) &&
        std::all_of(candidates.begin() + 1, candidates.end(),
                    [&best](const Candidate& rival) { return stands(best, rival); });
    if (clear && best.text != std::string(even)) return parse_wheel(best.text);
    return even_by_ripple(edges, cylinders);
}

}  // namespace evenstroke
