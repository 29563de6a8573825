// The worksheet as JSON: every figure is text with its unit.
#include <fmt/core.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "evenstroke/engine.hpp"
#include "read/cells.hpp"
#include "worksheet_fields.hpp"
#include "worksheet_forms.hpp"

namespace evenstroke::findings {

namespace {

using Json = nlohmann::ordered_json;

constexpr int form_version = 1;

[[noreturn]] void refuse(const std::string& place, const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::malformed, place, problem, remedy);
}

Json parsed(std::string_view text, const std::string& name) {
    // A key that stands twice would silently lose its first value.
    std::vector<std::set<std::string>> keys;
    const auto watch = [&](int, Json::parse_event_t event, Json& value) {
        if (event == Json::parse_event_t::object_start) keys.emplace_back();
        if (event == Json::parse_event_t::object_end) keys.pop_back();
        if (event == Json::parse_event_t::key && !keys.back().insert(value.get<std::string>()).second)
            refuse(name, fmt::format("\"{}\" appears twice in one object", value.get<std::string>()),
                   "give each quantity once");
        return true;
    };
    try {
        return Json::parse(text, watch);
    } catch (const Json::parse_error& error) {
        const auto before = text.substr(0, std::min(error.byte, text.size()));
        const auto line = 1 + std::count(before.begin(), before.end(), '\n');
        refuse(fmt::format("{}:{}", name, line), "this is not valid JSON",
               "look for a missing comma, quote or bracket in this line or the one before");
    } catch (const Json::out_of_range&) {  // 1e999
        refuse(name, "a number in this file is larger than any that can be kept",
               R"(write every reading as text with its unit, as in "150 psi")");
    }
}

/// What a value says as text; empty for null and "": not measured.
std::string text_of(const Json& value, const std::string& place) {
    if (value.is_null()) return {};
    if (value.is_string()) return value.get<std::string>();
    if (value.is_number()) refuse(place, "a number without a unit", R"(write text, as in "150 psi")");
    if (!value.is_array()) refuse(place, "this is neither text nor null", R"(write text, as in "150 psi")");
    std::string joined;
    for (const auto& part : value) {
        if (!part.is_string()) refuse(place, "the list holds something other than words", "write words only");
        joined += (joined.empty() ? "" : "+") + part.get<std::string>();
    }
    return joined.empty() ? "none" : joined;
}

void take(const Json& object, Scope scope, const std::string& place, EngineReadings& engine,
          CylinderReadings& cylinder) {
    for (const auto& [key, value] : object.items()) {
        if (key == "note" || (scope == Scope::cylinder && key == "cylinder")) continue;
        const Field* field = find_field(key);
        if (field == nullptr || field->scope != scope)
            refuse(place, fmt::format("\"{}\" is not a quantity here", key),
                   "quantities here: " + field_names(scope));
        const std::string where = place + ", " + key;
        const std::string text = text_of(value, where);
        if (reading::trim(text).empty()) continue;
        try {
            field->set(engine, cylinder, reading::trim(text), {});
        } catch (const BadEntry& bad) {
            refuse(where, bad.problem, bad.remedy);
        }
    }
}

int cylinder_number(const Json& entry, const std::string& place) {
    if (!entry.is_object() || !entry.contains("cylinder") || !entry["cylinder"].is_number_integer())
        refuse(place, "the entry names no cylinder", R"(begin it with "cylinder": 1)");
    const auto number = entry["cylinder"].get<long long>();
    if (number < 1 || number > max_cylinders)
        refuse(place, fmt::format("there is no cylinder {}", number),
               fmt::format("give a number from 1 to {}", max_cylinders));
    return static_cast<int>(number);
}

}  // namespace

Worksheet parse_json_form(std::string_view text, const std::string& name) {
    const Json document = parsed(text, name);
    if (!document.contains("worksheet") || document["worksheet"] != form_version)
        refuse(name, "this JSON is not a worksheet", R"(its first field is "worksheet": 1)");
    Worksheet sheet;
    CylinderReadings none;
    for (const auto& [key, value] : document.items()) {
        if (key == "worksheet" || key == "note") continue;
        if (key == "engine" && value.is_object()) {
            take(value, Scope::engine, name + ", engine", sheet.engine, none);
        } else if (key == "cylinders" && value.is_array()) {
            std::set<int> seen;
            for (std::size_t i = 0; i < value.size(); ++i) {
                const std::string place = fmt::format("{}, entry {} of cylinders", name, i + 1);
                CylinderReadings readings{.cylinder = cylinder_number(value[i], place)};
                if (!seen.insert(readings.cylinder).second)
                    refuse(place, fmt::format("cylinder {} appears twice", readings.cylinder),
                           "give each cylinder one entry");
                take(value[i], Scope::cylinder, fmt::format("{}, cylinder {}", name, readings.cylinder),
                     sheet.engine, readings);
                sheet.cylinders.push_back(std::move(readings));
            }
        } else {
            refuse(name, fmt::format("\"{}\" does not belong in a worksheet", key),
                   R"(a worksheet holds "engine": {...} and "cylinders": [...])");
        }
    }
    return sheet;
}

std::string json_template(std::span<const int> cylinders) {
    Json document = {{"worksheet", form_version},
                     {"note", "Text with its unit, as in \"150 psi\"; null is not measured."},
                     {"engine", Json::object()},
                     {"cylinders", Json::array()}};
    for (const Field& field : worksheet_fields())
        if (field.scope == Scope::engine) document["engine"][field.name] = nullptr;
    for (const int cylinder : cylinders) {
        Json entry = {{"cylinder", cylinder}};
        for (const Field& field : worksheet_fields())
            if (field.scope == Scope::cylinder) entry[field.name] = nullptr;
        document["cylinders"].push_back(entry);
    }
    return document.dump(2) + "\n";
}

}  // namespace evenstroke::findings
