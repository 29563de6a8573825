#include "crank_pictures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "plot.hpp"
#include "text.hpp"
#include "values/words.hpp"
#include "wheel_speeds.hpp"

namespace evenstroke::render {

namespace {

constexpr int most_x_ticks = 8;
constexpr int most_y_ticks = 5;
/// Two to a unit of the picture: finer than a printed line is thick.
constexpr int trace_columns = 768;

/// "current, A"; of a wheel its speed.
std::string value_label(const Trace& trace) {
    if (trace.quantity == Quantity::wheel) return "crank speed, rpm";
    return fmt::format("{}, {}", name(trace.quantity),
                       trace.unit.empty() ? "recorded units" : printable(trace.unit));
}

/// The range of what is finite.
struct Range {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();

    void add(double value) {
        if (!std::isfinite(value)) return;
        low = std::min(low, value);
        high = std::max(high, value);
    }
    /// An axis with some room beyond both ends; empty when nothing was added.
    [[nodiscard]] std::optional<Axis> axis(int most_ticks, double room_ratio) const {
        const double room = room_ratio * (high - low);
        return axis_over(low - room, high + room, most_ticks);
    }
    [[nodiscard]] std::string words() const {
        constexpr int digits = 3;
        return plain(low, digits) + " to " + plain(high, digits);
    }
};

/// The cycle as a line from 0 to 720 degrees, its end its beginning.
std::vector<PlotPoint> round_trip(const std::vector<double>& cycle) {
    std::vector<PlotPoint> points;
    for (std::size_t i = 0; i <= cycle.size() && !cycle.empty(); ++i)
        points.push_back({cycle_deg * static_cast<double>(i) / static_cast<double>(cycle.size()),
                          cycle[i % cycle.size()]});
    return points;
}

/// What a firing TDC is called in little room: "3", "3/2".
std::string short_label(const CylinderName& name, std::size_t position) {
    if (name.cylinder) return fmt::format("{}", *name.cylinder);
    if (!name.possible.empty()) return fmt::format("{}", fmt::join(name.possible, "/"));
    return fmt::format("{}", position + 1);
}

/// A line at each firing TDC, and again at the end of the cycle where it began.
void add_tdcs(Plot& plot, const Analysis& a, const std::vector<CylinderName>& names) {
    const auto tdc_deg = a.layout.firing_tdc_deg();
    // Many names would run into each other in one row.
    constexpr std::size_t most_in_a_row = 8;
    const bool staggered = tdc_deg.size() > most_in_a_row;
    const auto add = [&](double deg, std::size_t i) {
        plot.upright(deg, short_label(names[i], i), staggered && i % 2 == 1 ? 1 : 0);
    };
    for (std::size_t i = 0; i < tdc_deg.size() && i < names.size(); ++i) add(tdc_deg[i], i);
    if (!names.empty()) add(cycle_deg, 0);
    const bool named = !names.empty() && (names[0].cylinder || !names[0].possible.empty());
    plot.heading(named ? "firing TDC of cylinder" : "firing TDC of position", staggered ? 2 : 1);
}

/// Everything that can be plotted of the trace against time.
struct Samples {
    std::size_t count = 0;
    std::function<PlotPoint(std::size_t)> at;
};

/// `speeds` keeps what a wheel's samples point to.
Samples samples_of(const Trace& trace, const CrankAngle& angle, std::vector<SpeedAt>& speeds) {
    if (!trace.values.empty())
        return {trace.values.size(), [&trace](std::size_t i) -> PlotPoint {
                    return {trace.time_s(i), static_cast<double>(trace.values[i])};
                }};
    if (!angle.no_reference) speeds = wheel_speeds(angle);
    return {speeds.size(), [&speeds](std::size_t i) -> PlotPoint {
                return {speeds[i].time_s, speeds[i].rpm};
            }};
}

}  // namespace

std::string cycle_picture(const Analysis& a) {
    if (a.cranking.no_cranking || a.angle.no_reference || a.layout.cylinders() == 0) return {};
    const auto mean = round_trip(a.contribution.mean_cycle);
    const auto model = round_trip(a.contribution.model_cycle);
    Range measured;
    Range shown;
    for (const auto& p : mean) measured.add(p.y);
    for (const auto* line : {&mean, &model})
        for (const auto& p : *line) shown.add(p.y);
    const auto y = shown.axis(most_y_ticks, 0.05);
    if (!y || !std::isfinite(measured.low)) return {};
    Plot plot(
        {.low = 0, .high = cycle_deg, .ticks = {0, 90, 180, 270, 360, 450, 540, 630, 720}, .tick_step = 90},
        *y);
    const auto names = cylinder_names(a.angle, a.layout);
    add_tdcs(plot, a, names);
    plot.line(mean, "mean");
    plot.line(model, "model");
    const std::string label = value_label(a.trace);
    std::string said =
        fmt::format("Mean cycle over 720 degrees of crank angle: {}, {}", label, measured.words());
    said += model.empty() ? "." : "; the fitted model as a dashed line.";
    return plot.svg(said, fmt::format("crank angle after the firing TDC of {}, degrees", names[0].label),
                    label);
}

std::string trace_picture(const Recording& recording, const Analysis& a) {
    std::vector<SpeedAt> speeds;
    const Samples samples = samples_of(a.trace, a.angle, speeds);
    Range time;
    Range value;
    for (std::size_t i = 0; i < samples.count; ++i) {
        const PlotPoint p = samples.at(i);
        if (!std::isfinite(p.y)) continue;
        time.add(p.x);
        value.add(p.y);
    }
    // A wheel that rests makes no teeth, yet the recording went on.
    if (a.trace.values.empty() && samples.count > 0) {
        time.add(recording.start_s);
        time.add(recording.start_s + recording.duration_s);
    }
    const auto x = time.axis(most_x_ticks, 0);
    const auto y = value.axis(most_y_ticks, 0.04);
    if (!x || !y) return {};
    Plot plot(*x, *y);
    const bool analysed = !why_not(a.cranking, a.angle, a.contribution);
    if (!a.cranking.no_cranking)
        plot.band(a.cranking.settled_s, a.cranking.end_s, analysed ? "analysed" : "settled cranking");
    plot.line(reduced(samples.count, samples.at, x->low, x->high, trace_columns), "trace");
    const std::string label = value_label(a.trace);
    std::string said =
        fmt::format("The whole recording: {}, {}, over {} s", label, value.words(), time.words());
    if (analysed && std::isfinite(a.cranking.settled_s) && std::isfinite(a.cranking.end_s))
        said += fmt::format("; analysed from {:.2f} to {:.2f} s", a.cranking.settled_s, a.cranking.end_s);
    return plot.svg(said + '.', "time, s", label);
}

}  // namespace evenstroke::render
