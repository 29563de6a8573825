// The document of compare.
#include "evenstroke/render_followup.hpp"
#include "json_parts.hpp"

namespace evenstroke {

namespace {

using namespace render;

Json side_json(const RecordedEngine& r) {
    return {{"path", r.path},
            {"outcome", name(r.outcome)},
            {"headline", r.headline},
            {"quantity", name(r.quantity)},
            {"speed_rpm", number(r.speed_rpm, speed_decimals)},
            {"resting_v", number(r.resting_v, voltage_decimals)},
            {"cranking_v", number(r.cranking_v, voltage_decimals)}};
}

Json change_json(const Change& c, std::size_t position) {
    // p keeps its leading digits: rounding to decimals would make small ones 0.
    const auto plain = [](std::optional<double> p) { return p ? Json(*p) : Json(nullptr); };
    const auto& change = c.change_pct;
    return {{"position", position},
            {"cylinder", c.cylinder ? Json(*c.cylinder) : Json(nullptr)},
            {"reference", c.reference},
            {"first_pct", number(c.first_pct, pct_decimals)},
            {"second_pct", number(c.second_pct, pct_decimals)},
            {"change_pct", change ? number(change->value, pct_decimals) : Json(nullptr)},
            {"change_low_pct", change ? number(change->low, pct_decimals) : Json(nullptr)},
            {"change_high_pct", change ? number(change->high, pct_decimals) : Json(nullptr)},
            {"t_ratio", number(c.t_ratio, statistic_decimals)},
            {"degrees", number(c.degrees, statistic_decimals)},
            {"p", plain(c.p)},
            {"p_corrected", plain(c.p_corrected)},
            {"beyond_chance", c.change_pct ? Json(c.beyond_chance) : Json(nullptr)},
            {"first_cycles", c.first_cycles},
            {"second_cycles", c.second_cycles}};
}

}  // namespace

std::string compare_json(const RecordedEngine& first, const RecordedEngine& second,
                         const Comparison& comparison) {
    Json document = head("compare");
    document["first"] = side_json(first);
    document["second"] = side_json(second);
    document["between"] =
        comparison.between == Between::not_said ? Json(nullptr) : Json(name(comparison.between));
    document["test"] = "Welch, Holm";
    Json cylinders = Json::array();
    for (std::size_t i = 0; i < comparison.changes.size(); ++i)
        cylinders.push_back(change_json(comparison.changes[i], i + 1));
    put_judgement(document, name(comparison.outcome), comparison, findings_json(comparison.findings),
                  {.after_headline = Json::object({{"cylinders", std::move(cylinders)}}),
                   .after_findings = Json::object({{"confounders", notices_json(comparison.confounders)}})});
    return dump(document, 2);
}

}  // namespace evenstroke
