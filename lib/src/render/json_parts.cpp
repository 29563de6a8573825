#include "json_parts.hpp"

#include <cmath>
#include <utility>

#include "evenstroke/version.hpp"
#include "render/text.hpp"

namespace evenstroke::render {

namespace {

void add_fields(Json& document, const Json& fields) {
    for (const auto& [key, value] : fields.items()) document[key] = value;
}

}  // namespace

Json number(std::optional<double> value, int decimals) {
    if (!value || !std::isfinite(*value)) return nullptr;
    const double scale = std::pow(10.0, decimals);
    const double rounded = std::round(*value * scale) / scale;
    return std::isfinite(rounded) ? rounded + 0.0 : *value;  // + 0.0: no negative zero
}

Json text_or_null(const std::string& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

std::string dump(const Json& document, int indent) {
    return document.dump(indent, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json head(const char* command) {
    return {{"evenstroke", version()}, {"schema", 1}, {"command", command}};
}

Json notices_json(const std::vector<Notice>& notices) {
    Json all = Json::array();
    for (const Notice& notice : notices)
        all.push_back({{"code", notice.code}, {"text", sentence(notice.text)}});
    return all;
}

Json findings_json(const std::vector<Finding>& findings) {
    Json all = Json::array();
    for (const Finding& finding : findings)
        all.push_back({{"code", finding.code}, {"text", finding.text}, {"evidence", finding.evidence}});
    return all;
}

void put_judgement(Json& document, const char* outcome, const Judgement& judgement, Json findings,
                   const Among& among) {
    document["outcome"] = outcome;
    document["headline"] = judgement.headline;
    add_fields(document, among.after_headline);
    document["findings"] = std::move(findings);
    add_fields(document, among.after_findings);
    document["next_tests"] = Json::array();
    for (const NextTest& test : judgement.next_tests)
        document["next_tests"].push_back({{"code", test.code}, {"text", test.text}});
    add_fields(document, among.after_tests);
    document["cautions"] = judgement.cautions;
}

}  // namespace evenstroke::render
