// What is true of a made recording, as JSON (docs/synth.md).
#include <nlohmann/json.hpp>

#include "evenstroke/synth.hpp"

namespace evenstroke {

namespace {

using Json = nlohmann::ordered_json;

/// A cylinder's name at a position; null without a firing order.
Json cylinder_at(const EngineLayout& layout, int position) {
    if (layout.order.empty()) return nullptr;
    return layout.order[static_cast<std::size_t>(position)];
}

Json or_null(const std::optional<double>& value) {
    return value ? Json(*value) : Json(nullptr);
}

Json fault_json(const SynthFault& fault, const EngineLayout& layout) {
    Json json = {{"position", fault.position + 1},
                 {"cylinder", cylinder_at(layout, fault.position)},
                 {"kind", name(fault.kind)},
                 {counts_in_percent(fault.kind) ? "amount_pct" : "amount_mm2", fault.amount}};
    if (fault.kind == FaultKind::gasket)
        json["neighbour_position"] = 1 + fault.neighbour.value_or((fault.position + 1) % layout.cylinders());
    return json;
}

Json cylinder_json(const EngineLayout& layout, const SynthTruth& truth, std::size_t i) {
    const TruthCylinder& c = truth.cylinders[i];
    return {{"position", i + 1},
            {"cylinder", cylinder_at(layout, static_cast<int>(i))},
            {"contribution_pct", truth.contribution_pct[i]},
            {"peak_gauge_kpa", truth.peak_kpa[i]},
            {"loss_angle_deg", or_null(c.loss_angle_deg)},
            {"compression_ratio", c.compression_ratio},
            {"intake_opens_deg", c.intake_opens_deg},
            {"intake_closes_deg", c.intake_closes_deg},
            {"exhaust_opens_deg", c.exhaust_opens_deg},
            {"exhaust_closes_deg", c.exhaust_closes_deg},
            {"rings_leak_mm2", c.rings_leak_mm2},
            {"intake_leak_mm2", c.intake_leak_mm2},
            {"exhaust_leak_mm2", c.exhaust_leak_mm2}};
}

/// The transducer, and under the names of `pressure --json` what that command is to find.
Json pressure_json(const SynthOptions& options, const SynthTruth& truth) {
    const SynthChain& chain = options.chain;
    if (!chain.pressure_position) return nullptr;
    const SynthTransducer& t = chain.transducer;
    const int position = *chain.pressure_position;
    const auto at = static_cast<std::size_t>(position);
    const TruthCylinder& c = truth.cylinders[at];
    const double ambient_kpa = options.engine.ambient_kpa;
    Json pulses = Json::array(), puffs = Json::array();
    std::optional<double> first_ratio;
    for (const SynthEvent& event : truth.events) {
        if (event.position != position) continue;
        if (!first_ratio && !t.check_valve) first_ratio = event.peak_kpa / truth.peak_kpa[at];
        pulses.push_back({{"tdc_s", event.tdc_s},
                          {"peak_s", or_null(event.peak_s)},
                          {"peak_kpa", event.peak_kpa + ambient_kpa},
                          {"peak_angle_deg", or_null(event.peak_angle_deg)}});
    }
    for (const double puff : truth.puffs_kpa) puffs.push_back(puff);
    if (!truth.puffs_kpa.empty()) first_ratio = truth.puffs_kpa.front() / truth.puffs_kpa.back();
    const bool volts = t.unit == "V";
    return {{"position", position + 1},
            {"cylinder", cylinder_at(options.engine.layout, position)},
            {"unit", t.unit},
            {"kpa_per_v", volts ? Json(t.kpa_per_v) : Json(nullptr)},
            {"zero_v", volts ? Json(t.zero_v) : Json(nullptr)},
            {"zero", t.gauge || t.check_valve ? "gauge" : "absolute"},
            {"check_valve", t.check_valve},
            {"noise_kpa", chain.pressure_noise_kpa},
            {"drift_kpa_per_s", t.drift_kpa_per_s},
            {"bandwidth_hz", or_null(t.bandwidth_hz)},
            {"limit_kpa", or_null(t.limit_kpa)},
            {"reversed", t.reversed},
            {"sensor_offset_kpa", chain.pressure_offset_kpa},
            {"pulses", pulses},
            {"peak_kpa", {{"mean", truth.peak_kpa[at] + ambient_kpa}}},
            {"first_pulse_ratio", or_null(first_ratio)},
            {"loss_angle_deg", or_null(c.loss_angle_deg)},
            {"compression_ratio", c.compression_ratio},
            {"intake_closes_deg", c.intake_closes_deg},
            {"exhaust_opens_deg", c.exhaust_opens_deg},
            {"leak", {{"mm2", c.rings_leak_mm2 + c.intake_leak_mm2 + c.exhaust_leak_mm2}}},
            {"puffs_kpa_gauge", puffs}};
}

}  // namespace

std::string truth_json(const SynthOptions& options, std::uint64_t seed, const SynthTruth& truth) {
    const EngineLayout& layout = options.engine.layout;
    const Geometry& g = options.engine.geometry;
    Json cylinders = Json::array(), events = Json::array(), faults = Json::array();
    for (std::size_t i = 0; i < truth.peak_kpa.size(); ++i)
        cylinders.push_back(cylinder_json(layout, truth, i));
    for (const SynthEvent& event : truth.events)
        events.push_back({{"position", event.position + 1},
                          {"tdc_s", event.tdc_s},
                          {"peak_gauge_kpa", event.peak_kpa},
                          {"peak_s", or_null(event.peak_s)},
                          {"peak_angle_deg", or_null(event.peak_angle_deg)}});
    for (const SynthFault& fault : options.engine.faults) faults.push_back(fault_json(fault, layout));
    const Json json = {{"command", "synth"},
                       {"schema", 1},
                       {"simulated", true},
                       {"seed", seed},
                       {"engine",
                        {{"cylinders", layout.cylinders()},
                         {"order", layout.order},
                         {"intervals_deg", layout.intervals_deg},
                         {"bore_m", g.bore_m},
                         {"stroke_m", g.stroke_m},
                         {"rod_m", g.rod_m},
                         {"compression_ratio", g.compression_ratio},
                         {"ambient_kpa", options.engine.ambient_kpa}}},
                       {"faults", faults},
                       {"reference", {{"lead_deg", options.chain.sync_lead_deg}}},
                       {"cranking",
                        {{"start_s", truth.start_s},
                         {"settled_s", truth.settled_s},
                         {"steady_s", truth.steady_s},
                         {"end_s", truth.end_s},
                         {"ended_by", name(truth.ended_by)},
                         {"inrush_a", truth.inrush_a},
                         {"mean_a", truth.mean_a},
                         {"speed_rpm", truth.speed_rpm},
                         {"torque_nm", truth.torque_nm},
                         {"friction_nm", truth.friction_nm},
                         {"cycles", truth.cycles}}},
                       {"cylinders", cylinders},
                       {"pressure", pressure_json(options, truth)},
                       {"events", events}};
    return json.dump(2) + "\n";
}

}  // namespace evenstroke
