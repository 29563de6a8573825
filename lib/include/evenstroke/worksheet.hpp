// What was measured by hand beside the recordings: gauge readings, leak-down, oil pressure, vacuum.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace evenstroke {

/// A figure in this library's unit, and how it was written ("105 psi").
struct Measured {
    double value = 0;
    std::string written;
};

/// Where escaping air was heard while a cylinder was held under pressure at TDC.
enum class AirPath { intake, exhaust, crankcase, coolant, neighbour };
[[nodiscard]] const char* name(AirPath path);

/// One cylinder's readings; pressures in kPa (gauge), losses in percent.
struct CylinderReadings {
    int cylinder = 0;
    std::optional<Measured> first_puff_kpa;  ///< after the first compression
    std::optional<Measured> dry_kpa;         ///< after the last of 4 to 5 compressions
    std::optional<Measured> wet_kpa;         ///< the same with 15 ml of oil in the cylinder
    std::optional<Measured> leak_down_pct;   ///< static, at TDC of compression: lost share of the supply
    /// Where air was heard; empty with a value: listened, and nothing was heard. No value: nobody listened.
    std::optional<std::vector<AirPath>> air_heard;
};

enum class Fuel { spark, diesel };
enum class Needle { steady, fluctuating, falling };
enum class OilGauge { mechanical, sender };

/// What is measured once an engine, and the maker's figures. Vacuum in kPa below ambient.
struct EngineReadings {
    std::optional<Fuel> fuel;
    std::vector<std::vector<int>> rows;  ///< cylinders as they stand in the block; empty when not known
    std::optional<Measured> maker_lowest_kpa, maker_highest_kpa;  ///< compression that the maker allows
    std::optional<Measured> maker_ratio_pct;                      ///< lowest to highest that the maker allows
    std::optional<Measured> maker_leak_down_pct;                  ///< most that the maker allows
    std::optional<OilGauge> oil_gauge;
    std::optional<Measured> oil_idle_kpa, oil_3000_kpa;              ///< engine hot
    std::optional<Measured> maker_oil_idle_kpa, maker_oil_3000_kpa;  ///< least that the maker allows
    std::optional<Measured> vacuum_idle_kpa, vacuum_3000_kpa;
    std::optional<Needle> needle_idle, needle_3000;
    std::optional<Measured> maker_vacuum_kpa;  ///< least at idle that the maker allows
    std::optional<Measured> battery_resting_v, battery_cranking_v;
    std::optional<bool> uses_oil, knocks;
};

struct Worksheet {
    EngineReadings engine;
    std::vector<CylinderReadings> cylinders;  ///< ascending by number, each once
};

enum class WorksheetForm { csv, json };

/// Reads a worksheet in either form (JSON begins with a brace). An empty cell or null is "not measured".
/// Throws Error{malformed} with `name`, line or entry, and remedy.
[[nodiscard]] Worksheet parse_worksheet(std::string_view text, const std::string& name);

/// "1-2-3-4" or "1-3-5/2-4-6": cylinders as they stand in the block. Throws Error{bad_option}.
[[nodiscard]] std::vector<std::vector<int>> parse_rows(const std::string& text);

/// An empty worksheet for these cylinders, with a comment a line on what goes where.
[[nodiscard]] std::string worksheet_template(WorksheetForm form, std::span<const int> cylinders);

}  // namespace evenstroke
