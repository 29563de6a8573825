// The document of followup.
#include "evenstroke/render_followup.hpp"
#include "json_parts.hpp"

namespace evenstroke {

namespace {

using namespace render;

void put(Json& object, const std::string& key, const char* unit, int decimals,
         const std::optional<Measured>& value) {
    object[key + "_" + unit] = value ? number(value->value, decimals) : Json(nullptr);
    object[key + "_written"] = value ? Json(value->written) : Json(nullptr);
}

Json cylinder_json(const CylinderReadings& c) {
    Json one = {{"cylinder", c.cylinder}};
    put(one, "first_puff", "kpa", pressure_decimals, c.first_puff_kpa);
    put(one, "dry", "kpa", pressure_decimals, c.dry_kpa);
    put(one, "wet", "kpa", pressure_decimals, c.wet_kpa);
    put(one, "leak_down", "pct", pct_decimals, c.leak_down_pct);
    one["air_heard"] = nullptr;
    if (c.air_heard) {
        one["air_heard"] = Json::array();
        for (const AirPath path : *c.air_heard) one["air_heard"].push_back(name(path));
    }
    return one;
}

const char* word(Needle needle) {
    if (needle == Needle::steady) return "steady";
    return needle == Needle::fluctuating ? "fluctuating" : "falling";
}

template <class Value, class Word>
Json known(const std::optional<Value>& value, Word in_words) {
    return value ? Json(in_words(*value)) : Json(nullptr);
}

Json engine_json(const EngineReadings& g) {
    Json e;
    e["fuel"] = known(g.fuel, [](Fuel f) { return f == Fuel::spark ? "spark" : "diesel"; });
    e["rows"] = g.rows.empty() ? Json(nullptr) : Json(g.rows);
    put(e, "maker_lowest", "kpa", pressure_decimals, g.maker_lowest_kpa);
    put(e, "maker_highest", "kpa", pressure_decimals, g.maker_highest_kpa);
    put(e, "maker_ratio", "pct", pct_decimals, g.maker_ratio_pct);
    put(e, "maker_leak_down", "pct", pct_decimals, g.maker_leak_down_pct);
    e["oil_gauge"] =
        known(g.oil_gauge, [](OilGauge o) { return o == OilGauge::mechanical ? "mechanical" : "sender"; });
    put(e, "oil_idle", "kpa", pressure_decimals, g.oil_idle_kpa);
    put(e, "oil_3000", "kpa", pressure_decimals, g.oil_3000_kpa);
    put(e, "maker_oil_idle", "kpa", pressure_decimals, g.maker_oil_idle_kpa);
    put(e, "maker_oil_3000", "kpa", pressure_decimals, g.maker_oil_3000_kpa);
    put(e, "vacuum_idle", "kpa", pressure_decimals, g.vacuum_idle_kpa);
    e["needle_idle"] = known(g.needle_idle, word);
    put(e, "vacuum_3000", "kpa", pressure_decimals, g.vacuum_3000_kpa);
    e["needle_3000"] = known(g.needle_3000, word);
    put(e, "maker_vacuum", "kpa", pressure_decimals, g.maker_vacuum_kpa);
    put(e, "battery_resting", "v", voltage_decimals, g.battery_resting_v);
    put(e, "battery_cranking", "v", voltage_decimals, g.battery_cranking_v);
    e["uses_oil"] = known(g.uses_oil, [](bool b) { return b; });
    e["knocks"] = known(g.knocks, [](bool b) { return b; });
    return e;
}

Json recordings_json(const Evidence& evidence) {
    Json all = Json::array();
    for (const auto& r : evidence.recordings) {
        Json cylinders = Json::array();
        for (std::size_t i = 0; i < r.cylinders.size(); ++i) {
            const auto& c = r.cylinders[i];
            const auto& pct = c.contribution_pct;
            Json one = {{"position", i + 1},
                        {"cylinder", c.cylinder ? Json(*c.cylinder) : Json(nullptr)},
                        {"contribution_pct", pct ? number(pct->value, pct_decimals) : Json(nullptr)},
                        {"low_pct", pct ? number(pct->low, pct_decimals) : Json(nullptr)},
                        {"high_pct", pct ? number(pct->high, pct_decimals) : Json(nullptr)},
                        {"verdict", name(c.verdict)}};
            cylinders.push_back(std::move(one));
        }
        all.push_back({{"path", r.path},
                       {"outcome", name(r.outcome)},
                       {"headline", r.headline},
                       {"speed_rpm", number(r.speed_rpm, speed_decimals)},
                       {"resting_v", number(r.resting_v, voltage_decimals)},
                       {"cranking_v", number(r.cranking_v, voltage_decimals)},
                       {"cylinders", std::move(cylinders)}});
    }
    return all;
}

Json causes_json(Causes causes) {
    Json all = Json::array();
    for (const Cause cause : causes.list()) all.push_back(name(cause));
    return all;
}

Json finding_json(const JudgedFinding& f) {
    return {{"code", f.rule->code},
            {"text", f.text},
            {"cylinders", f.cylinders},
            {"evidence", f.evidence},
            {"strength", name(f.strength)},
            {"conflict", f.rule->conflict},
            {"opens", causes_json(f.rule->opens)},
            {"points_to", causes_json(f.rule->points_to)},
            {"removes", causes_json(f.removes)},
            {"next_test", f.rule->next},
            {"source", f.rule->source}};
}

Json diagnosis_json(const Diagnosis& d) {
    Json rivals = Json::array();
    for (const auto& r : d.rivals)
        rivals.push_back({{"cause", name(r.cause)},
                          {"text", words(r.cause)},
                          {"standing", name(r.standing)},
                          {"by", r.by}});
    return {{"cylinder", d.cylinder ? Json(*d.cylinder) : Json(nullptr)},
            {"text", d.text},
            {"rivals", std::move(rivals)},
            {"next_tests", d.next_tests}};
}

}  // namespace

std::string followup_json(const std::string& worksheet, const Evidence& evidence, const FollowUp& result) {
    Json document = head("followup");
    Json cylinders = Json::array();
    for (const auto& c : evidence.sheet.cylinders) cylinders.push_back(cylinder_json(c));
    document["worksheet"] = {{"path", worksheet},
                             {"engine", engine_json(evidence.sheet.engine)},
                             {"cylinders", std::move(cylinders)}};
    document["recordings"] = recordings_json(evidence);
    Json findings = Json::array();
    for (const auto& f : result.findings) findings.push_back(finding_json(f));
    Json diagnoses = Json::array();
    for (const auto& d : result.diagnoses) diagnoses.push_back(diagnosis_json(d));
    put_judgement(document, name(result.outcome), result, std::move(findings),
                  {.after_findings = Json::object({{"diagnoses", std::move(diagnoses)}})});
    return dump(document, 2);
}

}  // namespace evenstroke
