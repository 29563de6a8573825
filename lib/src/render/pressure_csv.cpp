// Tables of `pressure` for plotting: pulses, wave, mean cycle.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "csv_cell.hpp"
#include "decimals.hpp"
#include "evenstroke/render.hpp"
#include "signal/interpolate.hpp"

namespace evenstroke {

namespace {

using render::cell;
using render::cycle_angle_cell;

using render::time_decimals, render::angle_decimals, render::speed_decimals, render::trace_kpa_decimals;

constexpr int volume_decimals = 3, log_decimals = 5;
constexpr double half_cycle_deg = cycle_deg / 2;

/// Sensor offset that is taken off the readings, kPa.
double offset_kpa(const Pressure& p) {
    return (p.sensor_offset_kpa ? p.sensor_offset_kpa->value : 0) - (p.gauge ? p.ambient_kpa : 0);
}

std::optional<double> positive_log(double value) {
    return value > 0 ? std::optional(std::log(value)) : std::nullopt;
}

}  // namespace

std::string pressure_pulses_csv(const PressureReport& report) {
    std::string out = "pulse,tdc_s,tdc_low_s,tdc_high_s,peak_s,peak_kpa,peak_angle_deg,speed_rpm,used\n";
    int number = 0;
    for (const auto& p : report.pressure.pulses)
        out += fmt::format("{},{},{},{},{},{},{},{},{}\n", ++number, cell(p.tdc_s, time_decimals),
                           cell(p.tdc_low_s, time_decimals), cell(p.tdc_high_s, time_decimals),
                           cell(p.peak_s, time_decimals), cell(p.peak_kpa, trace_kpa_decimals),
                           cell(p.peak_angle_deg, angle_decimals), cell(p.speed_rpm, speed_decimals),
                           p.used ? "yes" : "no");
    return out;
}

std::string pressure_wave_csv(const PressureReport& report) {
    const Pressure& p = report.pressure;
    std::string out = "time_s,pressure_kpa,angle_deg,volume_cm3\n";
    const double offset = offset_kpa(p);
    for (std::size_t i = 0; i < p.kpa.size(); ++i) {
        const double time_s = p.time_s(i);
        out += cell(time_s, time_decimals) + ',' +
               cell(static_cast<double>(p.kpa[i]) - offset, trace_kpa_decimals);
        if (p.knot_s.size() < 2 || time_s < p.knot_s.front() || time_s > p.knot_s.back()) {
            out += ",,\n";
            continue;
        }
        const double angle = signal::interpolate(p.knot_s, p.knot_deg, time_s);
        out += ',' + cycle_angle_cell(angle) + ',';
        if (p.geometry_known) out += cell(1e6 * volume_m3(p.geometry, angle * pi / 180), volume_decimals);
        out += '\n';
    }
    return out;
}

std::string pressure_cycle_csv(const PressureReport& report) {
    const PressureCycle& c = report.pressure.cycle;
    std::string out = "angle_deg,pressure_kpa,volume_cm3,log_pressure,log_volume\n";
    for (std::size_t i = 0; i < c.pressure_kpa.size(); ++i) {
        const std::optional<double>& p = c.pressure_kpa[i];
        const std::optional<double> v =
            i < c.volume_cm3.size() ? std::optional(c.volume_cm3[i]) : std::nullopt;
        out += fmt::format("{},{},{},{},{}\n", static_cast<double>(i) - half_cycle_deg,
                           cell(p, trace_kpa_decimals), cell(v, volume_decimals),
                           cell(p ? positive_log(*p) : std::nullopt, log_decimals),
                           cell(v ? positive_log(*v) : std::nullopt, log_decimals));
    }
    return out;
}

}  // namespace evenstroke
