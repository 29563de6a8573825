#include "plot.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "html.hpp"

namespace evenstroke::render {

namespace {

// In user units, of which a phone shows the width on some 60 mm: letters of 13 stay readable.
constexpr double picture_width = 460;
constexpr double picture_height = 270;
constexpr double frame_left = 62;
constexpr double frame_right = 446;
constexpr double frame_top = 46;
constexpr double frame_bottom = 226;
constexpr double row_height = 14;
constexpr double tick_length = 4;

/// Rounded as an axis reads best: 1, 2 or 5 times a power of ten, at least `least`.
double round_step(double least) {
    const double power = std::pow(10.0, std::floor(std::log10(least)));
    for (const double factor : {1.0, 2.0, 5.0})
        if (factor * power >= least) return factor * power;
    return 10 * power;
}

std::string tick_words(double value, double step) {
    constexpr int most_decimals = 9;
    constexpr std::size_t longest = 12;
    const int decimals = std::clamp(-static_cast<int>(std::floor(std::log10(step) + 1e-9)), 0, most_decimals);
    std::string text = fmt::format("{:.{}f}", value + 0.0, decimals);
    return text.size() <= longest ? text : fmt::format("{:.6g}", value);
}

std::string text_at(double x, double y, const char* css_class, std::string_view words) {
    return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" class=\"{}\">{}</text>\n", x, y, css_class,
                       escaped(words));
}

std::string straight(double x1, double y1, double x2, double y2, const char* css_class) {
    return fmt::format("<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" class=\"{}\"/>\n", x1,
                       y1, x2, y2, css_class);
}

}  // namespace

std::optional<Axis> axis_over(double low, double high, int most_ticks) {
    if (!std::isfinite(low) || !std::isfinite(high) || !std::isfinite(high - low) || low > high)
        return std::nullopt;
    // What differs by less than double precision tells apart is one value; it lies in the middle.
    constexpr double least_ratio = 1e-12;
    constexpr double nothing = 1e-30;  // far below any recorded unit, far above where division fails
    const double size = std::max(std::abs(low), std::abs(high));
    if (high - low <= std::max(least_ratio * size, nothing)) {
        const double room = size > nothing ? size / 10 : 1;
        low -= room;
        high += room;
    }
    Axis axis{.low = low, .high = high, .tick_step = round_step((high - low) / most_ticks)};
    const double first = std::ceil(low / axis.tick_step);
    for (int i = 0; i <= most_ticks && (first + i) * axis.tick_step <= high; ++i)
        axis.ticks.push_back((first + i) * axis.tick_step);
    return axis;
}

std::vector<PlotPoint> reduced(std::size_t count, const std::function<PlotPoint(std::size_t)>& point,
                               double low, double high, int columns) {
    std::vector<PlotPoint> kept;
    std::optional<std::pair<PlotPoint, PlotPoint>> ends;  // lowest and highest of the column
    int column = 0;
    const auto keep = [&] {
        if (!ends) return;
        auto [first, second] = *ends;
        if (first.x > second.x) std::swap(first, second);
        kept.push_back(first);
        if (first.x < second.x) kept.push_back(second);
        ends.reset();
    };
    for (std::size_t i = 0; i < count; ++i) {
        const PlotPoint p = point(i);
        if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
        const double place = (p.x - low) / (high - low) * columns;
        const int here = static_cast<int>(std::clamp(place, 0.0, columns - 1.0));
        if (here != column) keep();
        column = here;
        if (!ends) ends = {p, p};
        if (p.y < ends->first.y) ends->first = p;
        if (p.y > ends->second.y) ends->second = p;
    }
    keep();
    return kept;
}

Plot::Plot(Axis x, Axis y) : x_(std::move(x)), y_(std::move(y)) {}

double Plot::across(double x) const {
    const double share = std::clamp((x - x_.low) / (x_.high - x_.low), 0.0, 1.0);
    return frame_left + share * (frame_right - frame_left);
}

double Plot::down(double y) const {
    const double share = std::clamp((y - y_.low) / (y_.high - y_.low), 0.0, 1.0);
    return frame_bottom - share * (frame_bottom - frame_top);
}

void Plot::line(const std::vector<PlotPoint>& points, std::string_view css_class) {
    std::string run;
    const auto end_run = [&] {
        if (!run.empty()) drawn_ += fmt::format("<polyline class=\"{}\" points=\"{}\"/>\n", css_class, run);
        run.clear();
    };
    for (const auto& p : points) {
        if (std::isfinite(p.x) && std::isfinite(p.y))
            run += fmt::format("{}{:.1f},{:.1f}", run.empty() ? "" : " ", across(p.x), down(p.y));
        else
            end_run();
    }
    end_run();
}

void Plot::band(double from_x, double to_x, std::string_view words) {
    if (!std::isfinite(from_x) || !std::isfinite(to_x) || from_x >= to_x) return;
    const double left = across(from_x);
    const double right = across(to_x);
    drawn_ +=
        fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" class=\"band\"/>\n",
                    left, frame_top, right - left, frame_bottom - frame_top);
    for (const double x : {left, right}) drawn_ += straight(x, frame_top - 8, x, frame_bottom, "limit");
    drawn_ += straight(left, frame_top - 8, right, frame_top - 8, "limit");
    drawn_ += text_at((left + right) / 2, frame_top - 13, "middle", words);
}

void Plot::upright(double x, std::string_view words, int row) {
    const double place = across(x);
    drawn_ += straight(place, frame_top, place, frame_bottom, "tdc");
    drawn_ += text_at(place, frame_top - 4 - row * row_height, "middle", words);
}

void Plot::heading(std::string_view words, int row) {
    drawn_ += text_at(frame_left, frame_top - 4 - row * row_height, "start", words);
}

std::string Plot::svg(std::string_view description, std::string_view x_label,
                      std::string_view y_label) const {
    std::string axes;
    for (const double tick : x_.ticks) {
        axes += straight(across(tick), frame_bottom, across(tick), frame_bottom + tick_length, "frame");
        axes += text_at(across(tick), frame_bottom + 17, "middle", tick_words(tick, x_.tick_step));
    }
    for (const double tick : y_.ticks) {
        axes += straight(frame_left - tick_length, down(tick), frame_left, down(tick), "frame");
        axes += text_at(frame_left - 7, down(tick) + 4.5, "end", tick_words(tick, y_.tick_step));
    }
    axes += fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" class=\"frame\"/>\n", frame_left,
                        frame_top, frame_right - frame_left, frame_bottom - frame_top);
    axes += text_at((frame_left + frame_right) / 2, frame_bottom + 36, "middle", x_label);
    const double middle = (frame_top + frame_bottom) / 2;
    axes +=
        fmt::format("<text x=\"14\" y=\"{0}\" transform=\"rotate(-90 14 {0})\" class=\"middle\">{1}</text>\n",
                    middle, escaped(y_label));
    const std::string said = escaped(description);
    return fmt::format(
        "<svg class=\"plot\" viewBox=\"0 0 {} {}\" role=\"img\" "
        "aria-label=\"{}\">\n<title>{}</title>\n{}{}</svg>\n",
        picture_width, picture_height, said, said, drawn_, axes);
}

}  // namespace evenstroke::render
