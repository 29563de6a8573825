// What `pressure` writes, for results that hold everything, nothing, or numbers that are none.
#include <doctest/doctest.h>

#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>

#include "evenstroke/render.hpp"

using namespace evenstroke;

namespace {

/// A result with `value` in every figure; two knots make a cycle of 0.6 s.
PressureReport report(double value) {
    PressureReport r;
    Pressure& p = r.pressure;
    p.kind = PressureKind::motored;
    p.channel = "Pressure";
    p.unit = "bar";
    p.rate_hz = 1000;
    p.kpa.assign(700, 100.0F);
    p.ambient_kpa = 100;
    p.geometry_known = true;
    const Figure figure{value, value, value};
    for (auto* one :
         {&p.peak_kpa, &p.speed_rpm, &p.sensor_offset_kpa, &p.compression_exponent, &p.expansion_exponent,
          &p.loss_angle_deg, &p.compression_ratio, &p.leak_mm2, &p.sealed_ratio, &p.trapped_ratio})
        *one = figure;
    for (auto* one : {&p.peak_sd_kpa, &p.speed_least_rpm, &p.speed_most_rpm, &p.first_pulse_ratio,
                      &p.intake_closes_deg, &p.exhaust_opens_deg, &p.intake_kpa, &p.exhaust_kpa})
        *one = value;
    p.pulses = {{.peak_s = 0.2,
                 .peak_kpa = value,
                 .tdc_s = value,
                 .tdc_low_s = value,
                 .tdc_high_s = value,
                 .peak_angle_deg = value,
                 .speed_rpm = value,
                 .used = true}};
    p.cycle.pressure_kpa.assign(720, value);
    p.cycle.volume_cm3.assign(720, value);
    p.knot_s = {0, 0.6};
    p.knot_deg = {0, 720};
    r.findings = judge_pressure(p);
    return r;
}

const std::vector<std::string> figures = {"speed_rpm",          "speed_least_rpm",   "speed_most_rpm",
                                          "first_pulse_ratio",  "sensor_offset_kpa", "compression_exponent",
                                          "expansion_exponent", "loss_angle_deg",    "compression_ratio",
                                          "intake_closes_deg",  "exhaust_opens_deg", "intake_kpa",
                                          "exhaust_kpa",        "sealed_ratio",      "trapped_ratio"};

}  // namespace

TEST_CASE("render: a pressure result of NaN or infinity -> null, empty cells, nothing said") {
    using limits = std::numeric_limits<double>;
    for (const double value : {limits::quiet_NaN(), limits::infinity(), -limits::infinity()}) {
        CAPTURE(value);
        const PressureReport r = report(value);
        const auto json = nlohmann::json::parse(pressure_json({}, r));  // refuses NaN
        for (const std::string& name : figures) {
            CAPTURE(name);
            REQUIRE(json.contains(name));
            CHECK(json[name].is_null());
        }
        CHECK(json["peak_kpa"]["mean"].is_null());
        CHECK(json["leak"]["mm2"].is_null());
        CHECK(json["pulses"][0]["tdc_s"].is_null());
        for (const std::string& text : {pressure_pulses_csv(r), pressure_wave_csv(r), pressure_cycle_csv(r)})
            CHECK((text.find("nan") == std::string::npos && text.find("inf") == std::string::npos));
        const std::string summary = pressure_summary_text({}, r);
        const std::string figures_said = summary.substr(summary.find("\nPressure\n"));
        CHECK(figures_said.substr(0, figures_said.find("\n\n", 2)).find("nan") == std::string::npos);
        CHECK(figures_said.substr(0, figures_said.find("\n\n", 2)).find("inf") == std::string::npos);
    }
}

TEST_CASE("render: a pressure result with figures -> the same in document and summary") {
    const PressureReport r = report(-0.001);
    const auto json = nlohmann::json::parse(pressure_json({}, r));
    for (const std::string& name : figures) CHECK(json[name].is_number());
    CHECK(json["recording"]["unit"] == "bar");
    const std::string summary = pressure_summary_text({}, r);
    CHECK(summary.find("-0.0 ") == std::string::npos);  // a zero has no sign
    PressureReport full = report(1);
    full.pressure.peak_kpa = Figure{1650, 1600, 1700};
    // 1650 - 100 kPa above the outside; NIST SP 811: 6.894757 kPa to the psi: 224.8.
    CHECK(pressure_summary_text({}, full).find("1550 kPa (225 psi)") != std::string::npos);
}

TEST_CASE("render: the wave's angle -> 0 to 719.99, never 720.00") {
    PressureReport r = report(1);
    r.pressure.knot_deg = {-0.004, 719.996};  // TDC falls within a sample; rounding alone makes 720.00 of it
    std::istringstream lines(pressure_wave_csv(r));
    std::string line;
    std::getline(lines, line);
    int placed = 0;
    while (std::getline(lines, line)) {
        const auto from = line.find(',', line.find(',') + 1) + 1;
        const std::string angle = line.substr(from, line.find(',', from) - from);
        if (angle.empty()) continue;
        CHECK(angle != "720.00");
        CHECK(angle.front() != '-');
        ++placed;
    }
    CHECK(placed == 601);  // 0 to 0.6 s at 1 kHz
}
