// A cylinder's bar. Lengths are percent of the width and heights are pixels, so that strokes and letters keep
// their size however wide a screen or paper is.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "crank_pictures.hpp"
#include "crank_words.hpp"
#include "html.hpp"

namespace evenstroke::render {

namespace {

/// Room at both ends, percent of the width, in which the whisker's caps and the scale's labels find place.
constexpr double margin_pct = 4;

/// Where a contribution lies, percent of the width; empty when not known.
std::optional<double> place(std::optional<double> pct) {
    if (!pct || !std::isfinite(*pct)) return std::nullopt;
    return margin_pct + std::clamp(*pct, 0.0, 100.0) / 100 * (100 - 2 * margin_pct);
}

std::string upright(double x_pct, int top, int bottom, const char* css_class) {
    return fmt::format("<line x1=\"{0:.2f}%\" x2=\"{0:.2f}%\" y1=\"{1}\" y2=\"{2}\" class=\"{3}\"/>", x_pct,
                       top, bottom, css_class);
}

std::string level(double from_pct, double to_pct, int y, const char* css_class) {
    return fmt::format("<line x1=\"{:.2f}%\" x2=\"{:.2f}%\" y1=\"{}\" y2=\"{}\" class=\"{}\"/>", from_pct,
                       to_pct, y, y, css_class);
}

/// From low to high, with caps; once wide in the paper's colour, so that it stands out from the bar too.
std::string whisker(double from_pct, double to_pct) {
    std::string drawn;
    for (const char* css_class : {"halo", "whisker"})
        drawn += level(from_pct, to_pct, 12, css_class) + upright(from_pct, 8, 16, css_class) +
                 upright(to_pct, 8, 16, css_class);
    return drawn;
}

/// What is not known has no unit.
std::string in_percent(const std::string& words) {
    return words == "n/a" ? words : words + " %";
}

std::string svg(int height, const std::string& said, const std::string& drawn) {
    return fmt::format(
        "<svg class=\"bar\" width=\"100%\" height=\"{0}\" role=\"img\" "
        "aria-label=\"{1}\"><title>{1}</title>{2}</svg>",
        height, said, drawn);
}

/// A limit that "weak" can begin at.
std::optional<double> limit_place(double weak_below_pct) {
    return weak_below_pct > 0 && weak_below_pct < 100 ? place(weak_below_pct) : std::nullopt;
}

}  // namespace

std::string bar_scale(double weak_below_pct) {
    const auto label = [](double x_pct, int y, const char* anchor, int aside, const std::string& words) {
        return fmt::format("<text x=\"{:.2f}%\" y=\"{}\" dx=\"{}\" class=\"{}\">{}</text>", x_pct, y, aside,
                           anchor, words);
    };
    std::string drawn = label(*place(0), 11, "start", 0, "0") + label(*place(100), 11, "end", 0, "100");
    std::string said = "Scale of the bars, 0 to 100 percent of the highest cylinder";
    if (const auto limit = limit_place(weak_below_pct)) {
        // Beside its mark, on the side where there is more room, and below the ends' labels: narrow bars are
        // a hundred pixels wide.
        const std::string limit_pct = fmt::format("{:.4g}", weak_below_pct);
        const bool before = weak_below_pct >= 50;
        drawn += label(*limit, 28, before ? "end" : "start", before ? -4 : 4, limit_pct);
        drawn += upright(*limit, 16, 34, "limit");
        said += ", with a mark: weak below " + limit_pct;
    }
    return svg(34, said, drawn);
}

std::string contribution_bar(const CylinderContribution& cylinder, Verdict verdict, double weak_below_pct) {
    const auto end = place(cylinder.contribution_pct);
    const auto low = place(cylinder.low_pct);
    const auto high = place(cylinder.high_pct);
    std::string drawn = upright(*place(0), 0, 24, "axis");
    if (end) {
        drawn += fmt::format("<rect x=\"{:.2f}%\" width=\"{:.2f}%\" y=\"5\" height=\"14\" class=\"{}\"/>",
                             *place(0), *end - *place(0), name(verdict));
        if (verdict == Verdict::low) drawn += level(*place(0), *end, 12, "stripes");
    }
    if (const auto limit = limit_place(weak_below_pct)) drawn += upright(*limit, 0, 24, "limit");
    if (low && high && *low <= *high) drawn += whisker(*low, *high);
    const std::string said = fmt::format("{}, interval {}", in_percent(percent(cylinder.contribution_pct)),
                                         in_percent(interval(cylinder)));
    return svg(24, end ? said : "n/a", drawn);
}

}  // namespace evenstroke::render
