#include "worksheet_fields.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "evenstroke/units.hpp"
#include "read/cells.hpp"
#include "worksheet_words.hpp"

namespace evenstroke::findings {

namespace {

/// What a figure may be: its dimension, and limits that catch a wrong unit or a slipped comma.
struct Kind {
    Dimension dimension;
    double least;
    double most;
    const char* example;
};

// Common practice, no published source: far outside what such gauges show.
constexpr Kind compression{Dimension::pressure, 0, 10000, "150 psi, 10.3 bar or 1030 kPa"};
constexpr Kind oil{Dimension::pressure, 0, 2000, "45 psi, 3.1 bar or 310 kPa"};
constexpr Kind vacuum{Dimension::pressure, 0, 101.325, "18 inHg, 460 mmHg or 61 kPa below ambient"};
constexpr Kind share{Dimension::ratio, 0, 1, "12 %"};
constexpr Kind battery{Dimension::voltage, 0, 60, "12.6 V"};

constexpr double percent_per_one = 100;

/// A number at the front of `text`, a decimal comma allowed; what follows it goes to `rest`.
double leading_number(std::string_view text, std::string_view& rest) {
    const std::size_t comma = text.find(',');
    if (comma != std::string_view::npos) {
        constexpr std::size_t thousands = 3;
        const std::size_t after = std::min(text.find_first_not_of("0123456789", comma + 1), text.size());
        if (after - comma - 1 == thousands)
            throw BadEntry{fmt::format("\"{}\" may mean thousands or decimals", text),
                           "write it without the comma, or with a decimal point"};
    }
    std::string copy(text);
    std::replace(copy.begin(), copy.end(), ',', '.');
    const char* first = copy.data();
    const char* last = first + copy.size();
    if (first != last && *first == '+') ++first;
    double value = 0;
    const auto parsed = std::from_chars(first, last, value);
    if (parsed.ec != std::errc{} || !std::isfinite(value))
        throw BadEntry{fmt::format("\"{}\" is not a number", text),
                       "write a number and its unit, or leave it empty when it was not measured"};
    rest = reading::trim(text.substr(static_cast<std::size_t>(parsed.ptr - copy.data())));
    return value;
}

Measured measured(std::string_view text, std::string_view unit_beside, const Kind& kind) {
    std::string_view written_unit;
    const double number = leading_number(text, written_unit);
    const std::string_view unit_text = written_unit.empty() ? reading::trim(unit_beside) : written_unit;
    if (unit_text.empty())
        throw BadEntry{fmt::format("\"{}\" has no unit", text), fmt::format("write {}", kind.example)};
    const auto unit = find_unit(unit_text);
    if (!unit || unit->dimension != kind.dimension)
        throw BadEntry{fmt::format("\"{}\" is not a unit for this", unit_text),
                       fmt::format("write {}", kind.example)};
    const double value = number * unit->factor;
    if (value < kind.least || value > kind.most)
        throw BadEntry{fmt::format("{} {} is not possible", text.substr(0, text.find(' ')), unit->symbol),
                       fmt::format("check number and unit: {}", kind.example)};
    const double kept = kind.dimension == Dimension::ratio ? value * percent_per_one : value;
    std::string figure(reading::trim(text.substr(0, text.size() - written_unit.size())));
    return {kept, figure + " " + unit->symbol};
}

template <std::optional<Measured> CylinderReadings::*member, const Kind& kind>
void set_reading(EngineReadings&, CylinderReadings& c, std::string_view text, std::string_view unit) {
    c.*member = measured(text, unit, kind);
}

template <std::optional<Measured> EngineReadings::*member, const Kind& kind>
void set_engine(EngineReadings& e, CylinderReadings&, std::string_view text, std::string_view unit) {
    e.*member = measured(text, unit, kind);
}

template <auto member, auto read>
void set_word(EngineReadings& e, CylinderReadings&, std::string_view text, std::string_view) {
    e.*member = read(text);
}

using E = EngineReadings;
using C = CylinderReadings;

constexpr Field fields[] = {
    {"first_puff", Scope::cylinder, "psi", "gauge after the first compression",
     set_reading<&C::first_puff_kpa, compression>},
    {"dry", Scope::cylinder, "psi", "gauge after 4 to 5 compressions, warm, throttle wide open",
     set_reading<&C::dry_kpa, compression>},
    {"wet", Scope::cylinder, "psi", "the same with 15 ml of oil in the cylinder (spark ignition only)",
     set_reading<&C::wet_kpa, compression>},
    {"leak_down", Scope::cylinder, "%", "lost share of the supply, at TDC of compression, crank held",
     set_reading<&C::leak_down_pct, share>},
    {"air_heard", Scope::cylinder, "", "intake, exhaust, crankcase, coolant, neighbour, joined by +; or none",
     [](E&, C& c, std::string_view text, std::string_view) { c.air_heard = air_paths(text); }},
    {"fuel", Scope::engine, "", "spark or diesel", set_word<&E::fuel, fuel_word>},
    {"rows", Scope::engine, "", "cylinders as they stand in the block: 1-2-3-4, or 1-3-5/2-4-6",
     set_word<&E::rows, block_rows>},
    {"maker_lowest", Scope::engine, "psi", "lowest compression that the maker allows",
     set_engine<&E::maker_lowest_kpa, compression>},
    {"maker_highest", Scope::engine, "psi", "highest compression that the maker allows",
     set_engine<&E::maker_highest_kpa, compression>},
    {"maker_ratio", Scope::engine, "%", "lowest ratio of lowest to highest cylinder that the maker allows",
     set_engine<&E::maker_ratio_pct, share>},
    {"maker_leak_down", Scope::engine, "%", "highest leak-down that the maker allows",
     set_engine<&E::maker_leak_down_pct, share>},
    {"oil_gauge", Scope::engine, "", "mechanical or sender", set_word<&E::oil_gauge, oil_gauge_word>},
    {"oil_idle", Scope::engine, "psi", "oil pressure, hot, at idle", set_engine<&E::oil_idle_kpa, oil>},
    {"oil_3000", Scope::engine, "psi", "oil pressure, hot, at 3000 rpm", set_engine<&E::oil_3000_kpa, oil>},
    {"maker_oil_idle", Scope::engine, "psi", "lowest that the maker allows at idle",
     set_engine<&E::maker_oil_idle_kpa, oil>},
    {"maker_oil_3000", Scope::engine, "psi", "lowest that the maker allows at 3000 rpm",
     set_engine<&E::maker_oil_3000_kpa, oil>},
    {"vacuum_idle", Scope::engine, "inHg", "manifold vacuum at idle, below ambient",
     set_engine<&E::vacuum_idle_kpa, vacuum>},
    {"needle_idle", Scope::engine, "", "steady or fluctuating", set_word<&E::needle_idle, needle_word>},
    {"vacuum_3000", Scope::engine, "inHg", "manifold vacuum held at 3000 rpm",
     set_engine<&E::vacuum_3000_kpa, vacuum>},
    {"needle_3000", Scope::engine, "", "steady, fluctuating or falling",
     set_word<&E::needle_3000, needle_word>},
    {"maker_vacuum", Scope::engine, "inHg", "lowest at idle that the maker allows",
     set_engine<&E::maker_vacuum_kpa, vacuum>},
    {"battery_resting", Scope::engine, "V", "before cranking", set_engine<&E::battery_resting_v, battery>},
    {"battery_cranking", Scope::engine, "V", "while cranking", set_engine<&E::battery_cranking_v, battery>},
    {"uses_oil", Scope::engine, "", "yes or no: more than the maker allows", set_word<&E::uses_oil, yes_no>},
    {"knocks", Scope::engine, "", "yes or no: detonation under load", set_word<&E::knocks, yes_no>},
};

}  // namespace

std::span<const Field> worksheet_fields() {
    return fields;
}

const Field* find_field(std::string_view name) {
    for (const Field& field : fields)
        if (name == field.name) return &field;
    return nullptr;
}

std::string field_names(Scope scope) {
    std::string text;
    for (const Field& field : fields)
        if (field.scope == scope) text += (text.empty() ? "" : ", ") + std::string(field.name);
    return text;
}

}  // namespace evenstroke::findings
