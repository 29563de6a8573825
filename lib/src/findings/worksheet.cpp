#include "evenstroke/worksheet.hpp"

#include <algorithm>

#include "worksheet_fields.hpp"
#include "worksheet_forms.hpp"
#include "worksheet_words.hpp"

namespace evenstroke {

const char* name(AirPath path) {
    switch (path) {
        case AirPath::intake:
            return "intake";
        case AirPath::exhaust:
            return "exhaust";
        case AirPath::crankcase:
            return "crankcase";
        case AirPath::coolant:
            return "coolant";
        case AirPath::neighbour:
            break;
    }
    return "neighbour";
}

namespace {

/// A starter that turns draws the battery down; the other way round two readings were exchanged.
void check_battery(const EngineReadings& engine, const std::string& name) {
    const auto& resting = engine.battery_resting_v;
    const auto& cranking = engine.battery_cranking_v;
    if (resting && cranking && cranking->value > resting->value)
        throw Error(ErrorCode::malformed, name,
                    "battery_cranking (" + cranking->written + ") lies above battery_resting (" +
                        resting->written + ")",
                    "correct or swap the two readings, or omit one");
}

}  // namespace

Worksheet parse_worksheet(std::string_view text, const std::string& name) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (text.starts_with(byte_order_mark)) text.remove_prefix(byte_order_mark.size());
    const auto first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos)
        throw Error(ErrorCode::malformed, name, "the worksheet is empty",
                    "write one with evenstroke followup --template, and fill it in");
    if (text.find('\0') != std::string_view::npos)
        throw Error(ErrorCode::malformed, name, "this is not text", "give a worksheet in CSV or JSON");
    auto sheet =
        text[first] == '{' ? findings::parse_json_form(text, name) : findings::parse_csv_form(text, name);
    check_battery(sheet.engine, name);
    std::sort(sheet.cylinders.begin(), sheet.cylinders.end(),
              [](const CylinderReadings& a, const CylinderReadings& b) { return a.cylinder < b.cylinder; });
    return sheet;
}

std::vector<std::vector<int>> parse_rows(const std::string& text) {
    try {
        return findings::block_rows(text);
    } catch (const findings::BadEntry& bad) {
        throw Error(ErrorCode::bad_option, text, bad.problem, bad.remedy);
    }
}

std::string worksheet_template(WorksheetForm form, std::span<const int> cylinders) {
    return form == WorksheetForm::json ? findings::json_template(cylinders)
                                       : findings::csv_template(cylinders);
}

}  // namespace evenstroke
