// What the JSON documents share. Every number goes through `number`, so that NaN and infinity become null.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/findings.hpp"
#include "render/decimals.hpp"

namespace evenstroke::render {

using Json = nlohmann::ordered_json;

/// Rounded; null when not known or not finite.
[[nodiscard]] Json number(std::optional<double> value, int decimals);
/// Null when empty.
[[nodiscard]] Json text_or_null(const std::string& text);
/// Bytes that are not UTF-8 (a path, a channel name in another encoding) are replaced, not refused.
[[nodiscard]] std::string dump(const Json& document, int indent);
/// The fields that begin every document.
[[nodiscard]] Json head(const char* command);
[[nodiscard]] Json notices_json(const std::vector<Notice>& notices);
[[nodiscard]] Json findings_json(const std::vector<Finding>& findings);

/// What a document says among the parts of its judgement: objects, whose fields follow the part.
struct Among {
    Json after_headline = Json::object();
    Json after_findings = Json::object();
    Json after_tests = Json::object();
};

/// The judgement as every document says it: outcome, headline, findings, next tests, cautions.
void put_judgement(Json& document, const char* outcome, const Judgement& judgement, Json findings,
                   const Among& among);

}  // namespace evenstroke::render
