// The document of `pressure` (docs/pressure.schema.json).
#include "evenstroke/render.hpp"
#include "json_parts.hpp"

namespace evenstroke {

namespace {

using namespace render;

constexpr int ratio_decimals = 3, size_decimals = 3;

Json value(const std::optional<Figure>& figure, int decimals) {
    return figure ? number(figure->value, decimals) : Json(nullptr);
}

Json bounds(const std::optional<Figure>& figure, int decimals) {
    if (!figure) return nullptr;
    return {{"low", number(figure->low, decimals)}, {"high", number(figure->high, decimals)}};
}

Json pulses_json(const Pressure& p) {
    Json all = Json::array();
    for (const auto& pulse : p.pulses)
        all.push_back({{"tdc_s", number(pulse.tdc_s, time_decimals)},
                       {"tdc_low_s", number(pulse.tdc_low_s, time_decimals)},
                       {"tdc_high_s", number(pulse.tdc_high_s, time_decimals)},
                       {"peak_s", number(pulse.peak_s, time_decimals)},
                       {"peak_kpa", number(pulse.peak_kpa, trace_kpa_decimals)},
                       {"peak_angle_deg", number(pulse.peak_angle_deg, angle_decimals)},
                       {"speed_rpm", number(pulse.speed_rpm, speed_decimals)},
                       {"used", pulse.used}});
    return all;
}

Json geometry_json(const Pressure& p) {
    if (!p.geometry_known) return nullptr;
    constexpr double mm = 1e3;
    return {{"bore_mm", number(p.geometry.bore_m * mm, size_decimals)},
            {"stroke_mm", number(p.geometry.stroke_m * mm, size_decimals)},
            {"rod_mm", number(p.geometry.rod_m * mm, size_decimals)}};
}

void add_figures(const Pressure& p, Json& d) {
    d["speed_rpm"] = value(p.speed_rpm, speed_decimals);
    d["speed_interval_rpm"] = bounds(p.speed_rpm, speed_decimals);
    d["speed_least_rpm"] = number(p.speed_least_rpm, speed_decimals);
    d["speed_most_rpm"] = number(p.speed_most_rpm, speed_decimals);
    d["first_pulse_ratio"] = number(p.first_pulse_ratio, ratio_decimals);
    const auto add = [&](const char* name, const char* interval_name, const std::optional<Figure>& f,
                         int decimals) {
        d[name] = value(f, decimals);
        d[interval_name] = bounds(f, decimals);
    };
    add("sensor_offset_kpa", "sensor_offset_interval_kpa", p.sensor_offset_kpa, trace_kpa_decimals);
    add("compression_exponent", "compression_exponent_interval", p.compression_exponent, ratio_decimals);
    add("expansion_exponent", "expansion_exponent_interval", p.expansion_exponent, ratio_decimals);
    add("loss_angle_deg", "loss_angle_interval_deg", p.loss_angle_deg, angle_decimals);
    add("compression_ratio", "compression_ratio_interval", p.compression_ratio, ratio_decimals);
    d["intake_closes_deg"] = number(p.intake_closes_deg, angle_decimals);
    d["exhaust_opens_deg"] = number(p.exhaust_opens_deg, angle_decimals);
    d["intake_closes_interval_deg"] = bounds(p.intake_closes_interval_deg, angle_decimals);
    d["exhaust_opens_interval_deg"] = bounds(p.exhaust_opens_interval_deg, angle_decimals);
    d["intake_kpa"] = number(p.intake_kpa, trace_kpa_decimals);
    d["exhaust_kpa"] = number(p.exhaust_kpa, trace_kpa_decimals);
    d["leak"] = {{"mm2", value(p.leak_mm2, ratio_decimals)},
                 {"low_mm2", p.leak_mm2 ? number(p.leak_mm2->low, ratio_decimals) : Json(nullptr)},
                 {"high_mm2", p.leak_mm2 ? number(p.leak_mm2->high, ratio_decimals) : Json(nullptr)}};
    add("sealed_ratio", "sealed_ratio_interval", p.sealed_ratio, ratio_decimals);
    add("trapped_ratio", "trapped_ratio_interval", p.trapped_ratio, ratio_decimals);
    Json puffs = Json::array();
    for (const double puff : p.puffs_kpa_gauge) puffs.push_back(number(puff, trace_kpa_decimals));
    d["puffs_kpa_gauge"] = puffs;
}

void add_findings(const Recording& recording, const PressureReport& report, Json& d) {
    const PressureFindings& f = report.findings;
    std::vector<Notice> notices = recording.notices;
    notices.insert(notices.end(), report.pressure.notices.begin(), report.pressure.notices.end());
    put_judgement(d, name(f.outcome), f, findings_json(f.findings),
                  {.after_tests = Json::object({{"notices", notices_json(notices)}})});
}

}  // namespace

std::string pressure_json(const Recording& recording, const PressureReport& report) {
    const Pressure& p = report.pressure;
    Json d = head("pressure");
    d["recording"] = {{"path", recording.path},
                      {"format", text_or_null(recording.format)},
                      {"channel", text_or_null(p.channel)},
                      {"unit", text_or_null(p.unit)},
                      {"rate_hz", number(recording.rate_hz, time_decimals)},
                      {"recorded_rate_hz", number(recording.recorded_rate_hz, time_decimals)},
                      {"start_s", number(recording.start_s, time_decimals)},
                      {"duration_s", number(recording.duration_s, time_decimals)}};
    d["kind"] = name(p.kind);
    d["zero"] = p.gauge ? "gauge" : "absolute";
    d["ambient_kpa"] = number(p.ambient_kpa, trace_kpa_decimals);
    d["geometry"] = geometry_json(p);
    d["pulses"] = pulses_json(p);
    d["peak_kpa"] = {{"mean", value(p.peak_kpa, trace_kpa_decimals)},
                     {"low", p.peak_kpa ? number(p.peak_kpa->low, trace_kpa_decimals) : Json(nullptr)},
                     {"high", p.peak_kpa ? number(p.peak_kpa->high, trace_kpa_decimals) : Json(nullptr)},
                     {"sd", number(p.peak_sd_kpa, trace_kpa_decimals)}};
    add_figures(p, d);
    add_findings(recording, report, d);
    constexpr int indent = 2;
    return dump(d, indent);
}

}  // namespace evenstroke
