#include "json_parts.hpp"

#include <cmath>

#include "evenstroke/version.hpp"
#include "render/text.hpp"

namespace evenstroke::render {

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

}  // namespace evenstroke::render
