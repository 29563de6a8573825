// Which wheel is it, when the user did not say?
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <map>
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
/// A gap is as wide as the pattern says while its speed strays by less than this, as a logarithm, from that
/// beside it: half of what a gap of two pitches taken for three does (ln 1.5) …
constexpr double gap_step = 0.2;
/// … in all but this share of the turns. Where 12-1 is laid over 24-2, the gap is wrong in half of them.
constexpr double most_wrong_gaps = 0.25;
/// A wheel with one tooth more or fewer than the pattern needs a repair in every turn; a fault of the signal
/// comes in fewer than this.
constexpr double most_repairs_a_turn = 0.75;
/// A period of an even wheel strays by less than this from those beside it. Beside an extra tooth half-way it
/// is ln 2 / 2 = 0.35, at a gap of two pitches ln 2.
constexpr double mark_step = 0.25;
/// The periods that stray at one mark: an extra tooth makes two, and those beside it.
constexpr std::size_t mark_edges = 4;
/// Marks that lie the same number of edges apart in more than this share belong to the wheel, if there are
/// so many; fewer may be faults that happen to lie alike.
constexpr double returning_share = 0.5;
constexpr std::size_t least_marks = 4;
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

/// How far the middle one of three neighbouring periods or speeds strays from the mean of the others, as a
/// logarithm: a steady change of the speed is taken out.
double stray(double before, double at, double after) {
    return std::log(at / std::sqrt(before * after));
}

/// Whether something strays after the same number of edges again and again, as on no even wheel: it has gaps
/// or extra teeth that no known pattern explains.
bool marked(std::span<const Edge> edges, bool rising) {
    std::vector<double> time_s;
    for (const Edge& edge : edges)
        if (edge.rising == rising && (time_s.empty() || edge.time_s > time_s.back()))
            time_s.push_back(edge.time_s);
    std::vector<std::size_t> marks;
    for (std::size_t i = 2; i + 2 < time_s.size(); ++i) {
        const double off =
            stray(time_s[i - 1] - time_s[i - 2], time_s[i] - time_s[i - 1], time_s[i + 1] - time_s[i]);
        if (std::abs(off) > mark_step && (marks.empty() || i >= marks.back() + mark_edges))
            marks.push_back(i);
    }
    if (marks.size() < least_marks) return false;
    std::map<std::size_t, std::size_t> spacings;
    std::size_t most = 0;
    for (std::size_t i = 1; i < marks.size(); ++i) most = std::max(most, ++spacings[marks[i] - marks[i - 1]]);
    return static_cast<double>(most) > returning_share * static_cast<double>(marks.size() - 1);
}

/// Whether the edges are what `pattern` would give: repairs do not return with every turn, and its gaps are
/// as wide, in the pitches beside them, as it says. 60-2 laid over 30-1 is nearly as smooth as if it were
/// right, and so is 36-1 over 18-1, with one tooth of 35 bridged.
bool as_drawn(const WheelTeeth& teeth, const WheelPattern& pattern) {
    const double turns = (teeth.angle_deg.back() - teeth.angle_deg.front()) / turn_deg;
    if (teeth.missed + teeth.extra > most_repairs_a_turn * turns) return false;
    const double gap_deg = *std::max_element(pattern.pitch_deg.begin(), pattern.pitch_deg.end());
    const auto speed = [&teeth](std::size_t i) {
        return (teeth.angle_deg[i] - teeth.angle_deg[i - 1]) / (teeth.time_s[i] - teeth.time_s[i - 1]);
    };
    int gaps = 0;
    int wrong = 0;
    for (std::size_t i = 2; i + 1 < teeth.time_s.size(); ++i) {
        if (std::abs(teeth.angle_deg[i] - teeth.angle_deg[i - 1] - gap_deg) > 1e-6) continue;  // or repaired
        ++gaps;
        if (std::abs(stray(speed(i - 1), speed(i), speed(i + 1))) > gap_step) ++wrong;
    }
    return wrong <= most_wrong_gaps * gaps;
}

/// An even wheel's teeth from the compressions: `cylinders` of them in two turns.
std::optional<WheelPattern> even_by_ripple(std::span<const Edge> edges, int cylinders) {
    if (cylinders < 2) return {};
    const auto teeth = align_teeth(edges, parse_wheel(even));
    if (!teeth || teeth->roughness > most_roughness || teeth->time_s.size() < 24) return {};
    if (marked(edges, teeth->rising)) return {};
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
    if (clear && best.text != std::string(even)) {
        WheelPattern pattern = parse_wheel(best.text);
        const auto teeth = align_teeth(edges, pattern);
        if (teeth && as_drawn(*teeth, pattern)) return pattern;
        return {};
    }
    return even_by_ripple(edges, cylinders);
}

}  // namespace evenstroke
