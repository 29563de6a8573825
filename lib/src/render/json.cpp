// The documents of crank and inspect.
#include <optional>

#include "evenstroke/render.hpp"
#include "json_parts.hpp"
#include "known.hpp"

namespace evenstroke {

namespace {

using namespace render;

Json recording_json(const Recording& recording, const Analysis& a) {
    return {
        {"path", recording.path},
        {"format", text_or_null(recording.format)},
        {"channel", text_or_null(a.trace.channel)},
        {"why", text_or_null(a.trace.why)},
        {"quantity", name(a.trace.quantity)},
        {"unit", text_or_null(a.trace.unit)},
        {"rate_hz", recording.rate_hz > 0 ? number(recording.rate_hz, free_decimals) : Json(nullptr)},
        {"recorded_rate_hz",
         recording.recorded_rate_hz > 0 ? number(recording.recorded_rate_hz, free_decimals) : Json(nullptr)},
        {"start_s", number(recording.start_s, time_decimals)},
        {"duration_s", number(recording.duration_s, time_decimals)}};
}

Json engine_json(const EngineLayout& layout) {
    Json intervals = Json::array();
    for (const double deg : layout.intervals_deg) intervals.push_back(number(deg, angle_decimals));
    return {{"cylinders", layout.cylinders()},
            {"order", layout.order.empty() ? Json(nullptr) : Json(layout.order)},
            {"intervals_deg", intervals}};
}

Json reference_json(const CrankAngle& angle) {
    const bool none = angle.no_reference.has_value() || angle.kind == ReferenceKind::none;
    const bool placed = !none && render::tdc_known(angle);
    return {{"kind", none ? "none" : name(angle.kind)},
            {"channel", none ? Json(nullptr) : text_or_null(angle.channel)},
            {"lead_deg", placed ? number(angle.lead_deg, angle_decimals) : Json(nullptr)},
            {"sync_channel", none ? Json(nullptr) : text_or_null(angle.sync_channel)},
            {"once_per_turn", none ? Json(nullptr) : Json(angle.once_per_turn)}};
}

Json cranking_json(const Trace& trace, const Cranking& c, const CrankAngle& angle,
                   const Contribution& contribution) {
    const bool located = !c.no_cranking;
    const bool turned = located && !angle.no_reference;
    const auto when = [located](double time_s) {
        return located ? number(time_s, time_decimals) : Json(nullptr);
    };
    const auto mean_rpm = turned ? mean_speed_rpm(angle, contribution) : std::nullopt;
    Json others = Json::array();
    for (const auto& burst : c.others)
        others.push_back({{"start_s", number(burst.start_s, time_decimals)},
                          {"end_s", number(burst.end_s, time_decimals)}});
    const auto speed = contribution.speed_rpm;
    return {{"start_s", when(c.start_s)},
            {"settled_s", when(c.settled_s)},
            {"end_s", when(c.end_s)},
            {"ended_by", located ? Json(name(c.ended_by)) : Json(nullptr)},
            {"inrush_a", number(render::in_unit(trace, "A", c.inrush_a), decimals_of_current(c.inrush_a))},
            {"mean_a", number(render::in_unit(trace, "A", c.mean_a), decimals_of_current(c.mean_a))},
            {"resting_v", number(render::in_unit(trace, "V", c.resting_v), voltage_decimals)},
            {"lowest_v", number(render::in_unit(trace, "V", c.lowest_v), voltage_decimals)},
            {"mean_v", number(render::in_unit(trace, "V", c.mean_v), voltage_decimals)},
            {"speed_rpm", number(mean_rpm, speed_decimals)},
            {"speed_low_rpm", mean_rpm && speed ? number(speed->low, speed_decimals) : Json(nullptr)},
            {"speed_high_rpm", mean_rpm && speed ? number(speed->high, speed_decimals) : Json(nullptr)},
            {"cycles", turned ? Json(angle.cycles) : Json(nullptr)},
            {"cycles_used", contribution.cycles_used ? Json(*contribution.cycles_used) : Json(nullptr)},
            {"other_bursts", others}};
}

/// `key`_low_`unit`, `key`_high_`unit` beside `key`_`unit`.
void put_figure(Json& into, const std::string& key, const std::string& unit, const std::optional<Figure>& f,
                int decimals, double factor = 1) {
    const auto scaled = [&](double value) { return number(value * factor, decimals); };
    into[key + "_" + unit] = f ? scaled(f->value) : Json(nullptr);
    into[key + "_low_" + unit] = f ? scaled(f->low) : Json(nullptr);
    into[key + "_high_" + unit] = f ? scaled(f->high) : Json(nullptr);
}

Json drive_json(const DriveFigures& drive) {
    constexpr int drive_decimals = 1;  // none of them is known better than a few percent
    Json all = Json::object();
    put_figure(all, "torque", "nm", drive.torque_nm, drive_decimals);
    put_figure(all, "friction", "nm", drive.friction_nm, drive_decimals);
    const auto stall_a = drive.stall_a ? std::optional(drive.stall_a->value) : std::nullopt;
    put_figure(all, "stall", "a", drive.stall_a, decimals_of_current(stall_a));
    put_figure(all, "loop", "mohm", drive.loop_mohm, drive_decimals + 1);
    all["battery_channel"] = text_or_null(drive.battery_channel);
    return all;
}

Json cylinders_json(const Analysis& a) {
    const bool judged = !why_not(a.cranking, a.angle, a.contribution);
    const auto names = cylinder_names(a.angle, a.layout);
    const CylinderContribution nothing;
    Json all = Json::array();
    for (std::size_t i = 0; i < names.size(); ++i) {
        // Without a verdict no figure stands as if it were one.
        const bool known = judged && i < a.contribution.cylinders.size();
        const CylinderContribution& c = known ? a.contribution.cylinders[i] : nothing;
        const Verdict verdict = i < a.findings.verdicts.size() ? a.findings.verdicts[i] : Verdict::unsure;
        Json one = {{"position", i + 1},
                    {"cylinder", names[i].cylinder ? Json(*names[i].cylinder) : Json(nullptr)}};
        if (!names[i].possible.empty()) one["possible_cylinders"] = names[i].possible;
        one["contribution_pct"] = number(c.contribution_pct, pct_decimals);
        one["low_pct"] = number(c.low_pct, pct_decimals);
        one["high_pct"] = number(c.high_pct, pct_decimals);
        one["simple_pct"] = number(c.simple_pct, pct_decimals);
        one["loss_kind"] = c.loss_kind ? Json(name(*c.loss_kind)) : Json(nullptr);
        const auto peak = known && i < a.peaks_kpa.size() ? a.peaks_kpa[i] : std::nullopt;
        put_figure(one, "peak", "kpa", peak, pressure_decimals);
        put_figure(one, "peak", "psi", peak, pressure_decimals, psi_per_kpa);
        one["verdict"] = name(verdict);
        one["events"] = c.events;
        all.push_back(one);
    }
    return all;
}

Json crank_document(const Recording& recording, const Analysis& a) {
    Json document = head("crank");
    document["recording"] = recording_json(recording, a);
    document["engine"] = engine_json(a.layout);
    document["reference"] = reference_json(a.angle);
    document["cranking"] = cranking_json(a.trace, a.cranking, a.angle, a.contribution);
    document["drive"] = drive_json(a.drive);
    document["cylinders"] = cylinders_json(a);
    const Findings& f = a.findings;
    put_judgement(
        document, name(f.outcome), f, findings_json(f.findings),
        {.after_headline = Json::object({{"weak_below_pct", number(f.weak_below_pct, pct_decimals)}}),
         .after_tests = Json::object({{"notices", notices_json(all_notices(recording, a))}})});
    return document;
}

Json channel_json(const Channel& channel, const ChannelLook& look, std::size_t number_from_1) {
    const bool sampled = channel.edges.empty();
    return {{"number", number_from_1},
            {"name", channel.name},
            {"unit", text_or_null(channel.unit)},
            {"looks_like", name(look.quantity)},
            {"reason", look.reason},
            {"samples", channel.values.size()},
            {"edges", look.edges},
            {"lowest", sampled ? number(look.lowest, free_decimals) : Json(nullptr)},
            {"highest", sampled ? number(look.highest, free_decimals) : Json(nullptr)},
            {"mean", sampled ? number(look.mean, free_decimals) : Json(nullptr)},
            {"gaps", channel.gaps.size()},
            {"clipped_runs", channel.clipped.size()}};
}

}  // namespace

const char* name(ErrorCode code) {
    switch (code) {
        case ErrorCode::cannot_open:
            return "cannot-open";
        case ErrorCode::malformed:
            return "malformed";
        case ErrorCode::unsupported:
            return "unsupported";
        case ErrorCode::unusable:
            return "unusable";
        case ErrorCode::no_such_channel:
            return "no-such-channel";
        case ErrorCode::bad_engine:
            return "bad-engine";
        case ErrorCode::bad_option:
            return "bad-option";
        case ErrorCode::cannot_write:
            break;
    }
    return "cannot-write";
}

std::string crank_json(const Recording& recording, const Analysis& analysis) {
    return dump(crank_document(recording, analysis), 2);
}

std::string crank_json_line(const Recording& recording, const Analysis& analysis) {
    return dump(crank_document(recording, analysis), -1);
}

std::string refusal_json_line(const std::string& path, const Error& error) {
    Json document = head("crank");
    document["recording"] = {{"path", path}};
    document["error"] = {{"code", name(error.code())},
                         {"text", error.what()},
                         {"place", text_or_null(error.place())},
                         {"remedy", text_or_null(error.remedy())}};
    return dump(document, -1);
}

std::string inspection_json(const Recording& recording, const std::vector<ChannelLook>& looks) {
    Json document = head("inspect");
    document["recording"] = {
        {"path", recording.path},
        {"format", text_or_null(recording.format)},
        {"rate_hz", recording.rate_hz > 0 ? number(recording.rate_hz, free_decimals) : Json(nullptr)},
        {"recorded_rate_hz",
         recording.recorded_rate_hz > 0 ? number(recording.recorded_rate_hz, free_decimals) : Json(nullptr)},
        {"start_s", number(recording.start_s, time_decimals)},
        {"duration_s", number(recording.duration_s, time_decimals)},
        {"scaled_audio", recording.scaled_audio}};
    document["channels"] = Json::array();
    for (std::size_t i = 0; i < recording.channels.size(); ++i)
        document["channels"].push_back(
            channel_json(recording.channels[i], i < looks.size() ? looks[i] : ChannelLook{}, i + 1));
    document["notices"] = notices_json(recording.notices);
    return dump(document, 2);
}

}  // namespace evenstroke
