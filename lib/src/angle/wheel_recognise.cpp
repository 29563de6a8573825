// Which wheel is it, when the user did not say?
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>

#include "angle/wheel.hpp"
#include "angle/wheel_candidates.hpp"
#include "angle/wheel_fit.hpp"
#include "angle/wheel_turns.hpp"
#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

/// Wheels in common use that show themselves by a gap or an extra tooth, and any even one. Common practice,
/// no published list.
constexpr const char* even = "24-0";
constexpr std::array<const char*, 9> known = {"60-2", "36-1", "36-2", "36-2-2-2", "30-2",
                                              "24-1", "12-1", "12+1", even};
constexpr std::array<int, 7> even_teeth = {12, 24, 30, 36, 48, 60, 135};
/// Speed changes less than this from tooth to tooth, on average, if a wheel is even.
constexpr double most_even_roughness = 0.12;
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
    if (!teeth || teeth->roughness > most_even_roughness || teeth->time_s.size() < 24) return {};
    if (marked(edges, teeth->rising) || wheel_shown(edges, false) || wheel_shown(edges, true)) return {};
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

/// The wheel, known or not, that the marks of either kind of edge show, if it turns as the compressions say.
std::optional<WheelPattern> shown_wheel(std::span<const Edge> edges, int cylinders,
                                        std::span<const WheelFit> rivals) {
    for (const bool rising : {false, true}) {
        const auto text = wheel_shown(edges, rising);
        const auto shown = text ? laid(edges, *text) : std::nullopt;
        if (shown && clear_as_shown(edges, *shown, rivals) && turns_once(shown->teeth, cylinders))
            return shown->pattern;
    }
    return {};
}

}  // namespace

std::optional<WheelPattern> recognise_wheel(std::span<const Edge> edges, int cylinders) {
    // The even wheel stands among them: where no tooth is missing, a pattern with a gap fits no better.
    std::vector<WheelFit> tried;
    for (const char* text : known)
        if (auto fit = laid(edges, text)) tried.push_back(std::move(*fit));
    std::sort(tried.begin(), tried.end(),
              [](const WheelFit& a, const WheelFit& b) { return a.roughness < b.roughness; });
    const bool clear_gap = !tried.empty() && tried.front().pattern.text != even &&
                           clear(tried.front(), std::span(tried).subspan(1));
    if (clear_gap && as_drawn(tried.front())) {
        const WheelFit& best = tried.front();
        if (turns_otherwise(best.teeth, best.pattern, cylinders)) return {};
        return best.pattern;
    }
    if (auto found = shown_wheel(edges, cylinders, tried)) return found;
    if (clear_gap) return {};
    return even_by_ripple(edges, cylinders);
}

}  // namespace evenstroke
