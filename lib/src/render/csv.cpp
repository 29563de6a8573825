// Tables for plotting: events, cycles, wave.
#include <fmt/core.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <iterator>

#include "csv_cell.hpp"
#include "decimals.hpp"
#include "evenstroke/render.hpp"
#include "signal/interpolate.hpp"
#include "wheel_speeds.hpp"

namespace evenstroke {

namespace render {

std::string cell(std::string_view text) {
    if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
    std::string quoted = "\"";
    for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
    return quoted + '"';
}

std::string cell(std::optional<double> value, int decimals) {
    if (!value || !std::isfinite(*value)) return {};
    auto text = fmt::format("{:.{}f}", *value, decimals);
    // "-0.0" says nothing that "0.0" does not.
    if (text.find_first_not_of("-0.") == std::string::npos && text.front() == '-') text.erase(0, 1);
    return text;
}

std::string cycle_angle_cell(double total_deg) {
    if (!std::isfinite(total_deg)) return {};
    constexpr double hundredths = 100;
    constexpr auto cycle = static_cast<long long>(cycle_deg * hundredths);
    const long long within = (std::llround(total_deg * hundredths) % cycle + cycle) % cycle;
    return cell(static_cast<double>(within) / hundredths, 2);
}

std::string unit_suffix(std::string_view unit) {
    if (unit.empty()) return "_recorded";
    std::string suffix = "_";
    for (const char c : unit) {
        const auto code = static_cast<unsigned char>(c);
        if (std::isalnum(code) == 0) return "_recorded";
        suffix += static_cast<char>(std::tolower(code));
    }
    return suffix;
}

}  // namespace render

namespace {

using render::cell;
using render::pct_decimals, render::time_decimals, render::value_decimals, render::speed_decimals;

std::string cylinder_cell(const CylinderName& name) {
    return name.cylinder ? std::to_string(*name.cylinder) : std::string();
}

/// A wheel has no samples: what is plotted of it is speed.
std::string value_suffix(const Trace& trace) {
    return trace.quantity == Quantity::wheel ? "_rpm" : render::unit_suffix(trace.unit);
}

/// Position on its compression stroke at `angle_deg`: the one whose firing TDC comes next.
std::size_t compressing(const std::vector<double>& tdc_deg, double angle_deg) {
    const auto next = std::lower_bound(tdc_deg.begin(), tdc_deg.end(), angle_deg);
    return next == tdc_deg.end() ? 0 : static_cast<std::size_t>(next - tdc_deg.begin());
}

/// Rows of `--wave`: the cells that follow from the crank angle.
class AngleCells {
  public:
    explicit AngleCells(const Analysis& a)
        : angle_(a.angle),
          contribution_(a.contribution),
          wheel_(a.trace.quantity == Quantity::wheel),
          tdc_deg_(a.layout.firing_tdc_deg()),
          names_(cylinder_names(a.angle, a.layout)) {}

    /// ",angle,position,cylinder"; empty cells where the angle is not known.
    [[nodiscard]] std::string at(double time_s) const {
        const auto total = degrees(time_s);
        if (!total || tdc_deg_.empty() || !std::isfinite(*total)) return ",,,";
        const double in_cycle = *total - cycle_deg * std::floor(*total / cycle_deg);
        const std::size_t position = compressing(tdc_deg_, in_cycle);
        return fmt::format(",{},{},{}", render::cycle_angle_cell(*total), position + 1,
                           cylinder_cell(names_[position]));
    }

  private:
    /// The model's uneven angle where a model was fitted; a wheel's own; nothing where neither speaks.
    [[nodiscard]] std::optional<double> degrees(double time_s) const {
        const auto& knots_s = contribution_.knot_s;
        if (knots_s.size() < 2) return wheel_ && !angle_.no_reference ? angle_.at(time_s) : std::nullopt;
        if (time_s < knots_s.front() || time_s > knots_s.back()) return std::nullopt;
        return signal::interpolate(knots_s, contribution_.knot_deg, time_s);
    }

    const CrankAngle& angle_;
    const Contribution& contribution_;
    bool wheel_;
    std::vector<double> tdc_deg_;
    std::vector<CylinderName> names_;
};

std::string wheel_wave(const Analysis& a) {
    const AngleCells cells(a);
    std::string out;
    for (const auto& speed : render::wheel_speeds(a.angle))
        out += cell(speed.time_s, time_decimals) + ',' + cell(speed.rpm, speed_decimals) +
               cells.at(speed.time_s) + '\n';
    return out;
}

}  // namespace

std::string events_csv(const Analysis& a) {
    const auto names = cylinder_names(a.angle, a.layout);
    const std::string unit = value_suffix(a.trace);
    std::string out =
        fmt::format("cycle,position,cylinder,tdc_s,peak_s,peak{0},trough{0},contribution_pct\n", unit);
    if (why_not(a.cranking, a.angle, a.contribution)) return out;
    for (const auto& event : a.contribution.events) {
        const auto position = static_cast<std::size_t>(event.position);
        out += fmt::format("{},{},{},{},{},{},{},{}\n", event.cycle + 1, event.position + 1,
                           position < names.size() ? cylinder_cell(names[position]) : "",
                           cell(event.tdc_s, time_decimals), cell(event.peak_s, time_decimals),
                           cell(event.peak, value_decimals), cell(event.trough, value_decimals),
                           cell(event.contribution_pct, pct_decimals));
    }
    return out;
}

std::string cycles_csv(const Analysis& a) {
    const auto names = cylinder_names(a.angle, a.layout);
    std::string out = "cycle";
    for (std::size_t i = 0; i < names.size(); ++i)
        out += names[i].cylinder ? fmt::format(",cylinder_{}_pct", *names[i].cylinder)
                                 : fmt::format(",position_{}_pct", i + 1);
    out += '\n';
    if (why_not(a.cranking, a.angle, a.contribution)) return out;
    int number = 0;
    for (const auto& cycle : a.contribution.by_cycle_pct) {
        out += std::to_string(++number);
        for (const std::optional<double>& pct : cycle) out += ',' + cell(pct, pct_decimals);
        out += '\n';
    }
    return out;
}

std::string wave_csv(const Analysis& a) {
    std::string out = fmt::format("time_s,value{},angle_deg,position,cylinder\n", value_suffix(a.trace));
    if (a.trace.values.empty()) return out + wheel_wave(a);
    const AngleCells cells(a);
    for (std::size_t i = 0; i < a.trace.values.size(); ++i) {
        const double time_s = a.trace.time_s(i);
        out += cell(time_s, time_decimals) + ',' + cell(a.trace.values[i], value_decimals) +
               cells.at(time_s) + '\n';
    }
    return out;
}

}  // namespace evenstroke
