// The worksheet as a table: one row a quantity, one column a cylinder.
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "evenstroke/engine.hpp"
#include "read/cells.hpp"
#include "values/words.hpp"
#include "worksheet_fields.hpp"
#include "worksheet_forms.hpp"

namespace evenstroke::findings {

namespace {

constexpr const char* header_example = "quantity,unit,engine,1,2,3,4";

struct Line {
    std::string_view text;
    std::size_t number = 0;
};

[[noreturn]] void refuse(const std::string& name, std::size_t line, const std::string& problem,
                         const std::string& remedy) {
    throw Error(ErrorCode::malformed, fmt::format("{}:{}", name, line), problem, remedy);
}

/// Lines that hold something; LF, CRLF or CR.
std::vector<Line> filled_lines(std::string_view text) {
    std::vector<Line> lines;
    for (std::size_t number = 1; !text.empty(); ++number) {
        const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
        const auto line = reading::trim(text.substr(0, end));
        const bool remark = line.starts_with('#') || line.starts_with("\"#");
        if (!remark && line.find_first_not_of(",;\t \"") != std::string_view::npos)
            lines.push_back({text.substr(0, end), number});
        const bool pair = text.substr(end).starts_with("\r\n");
        text.remove_prefix(std::min(end + (pair ? 2 : 1), text.size()));
    }
    return lines;
}

/// What one column holds.
struct Column {
    enum class Kind { quantity, unit, engine, note, cylinder } kind = Kind::note;
    int cylinder = 0;
};

std::optional<Column> column_of(std::string_view title) {
    constexpr std::array words{
        std::pair{"quantity", Column::Kind::quantity}, std::pair{"unit", Column::Kind::unit},
        std::pair{"engine", Column::Kind::engine}, std::pair{"note", Column::Kind::note}};
    for (const auto& [word, kind] : words)
        if (title == word) return Column{kind, 0};
    int cylinder = 0;
    const auto parsed = std::from_chars(title.data(), title.data() + title.size(), cylinder);
    if (parsed.ec != std::errc{} || parsed.ptr != title.data() + title.size()) return std::nullopt;
    if (cylinder < 1 || cylinder > max_cylinders) return std::nullopt;
    return Column{Column::Kind::cylinder, cylinder};
}

class Table {
  public:
    Table(const Line& header, std::string name) : name_(std::move(name)) {
        for (const char candidate : {',', ';', '\t'})
            if (header.text.find(candidate) != std::string_view::npos) {
                separator_ = candidate;
                break;
            }
        std::set<std::string> seen;
        for (const auto& title : cells(header)) {
            const auto column = column_of(title);
            if (!column)
                refuse(name_, header.number, fmt::format("\"{}\" is not a worksheet column", title),
                       fmt::format("the first line is {}: cylinder numbers from 1 to {}", header_example,
                                   max_cylinders));
            if (!seen.insert(title).second)
                refuse(name_, header.number, fmt::format("the column \"{}\" appears twice", title),
                       "give each column once");
            columns_.push_back(*column);
            if (column->kind == Column::Kind::cylinder)
                sheet_.cylinders.push_back({.cylinder = column->cylinder});
        }
        if (!seen.contains("quantity"))
            refuse(name_, header.number, "no column is called quantity",
                   fmt::format("begin with a line like {}", header_example));
    }

    void take(const Line& line) {
        const auto row = cells(line);
        if (row.size() != columns_.size())
            refuse(name_, line.number,
                   counted(row.size(), "cells") + " under " + counted(columns_.size(), "columns"),
                   "give every row as many cells as the first line, empty where nothing was measured");
        const std::string quantity = row[index_of(Column::Kind::quantity).value_or(0)];
        const auto unit_index = index_of(Column::Kind::unit);
        const std::string unit = unit_index ? row[*unit_index] : std::string();
        const Field* field = find_field(quantity);
        if (field == nullptr)
            refuse(name_, line.number, fmt::format("\"{}\" is not a worksheet quantity", quantity),
                   fmt::format("for cylinders: {}; for the engine: {}", field_names(Scope::cylinder),
                               field_names(Scope::engine)));
        if (!taken_.insert(quantity).second)
            refuse(name_, line.number, fmt::format("\"{}\" appears twice", quantity),
                   "give each quantity one row");
        for (std::size_t i = 0; i < row.size(); ++i)
            if (!row[i].empty()) take_cell(*field, line, i, row[i], unit);
    }

    [[nodiscard]] Worksheet sheet() && { return std::move(sheet_); }

  private:
    [[nodiscard]] std::vector<std::string> cells(const Line& line) const {
        std::vector<std::string_view> raw;
        reading::split(line.text, separator_, raw);
        std::vector<std::string> out;
        for (const auto cell : raw) out.emplace_back(reading::trim(reading::unquote(cell)));
        return out;
    }
    [[nodiscard]] std::optional<std::size_t> index_of(Column::Kind kind) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i].kind == kind) return i;
        return std::nullopt;
    }
    void take_cell(const Field& field, const Line& line, std::size_t index, const std::string& text,
                   const std::string& unit) {
        const Column& column = columns_[index];
        const bool for_cylinder = column.kind == Column::Kind::cylinder;
        if (!for_cylinder && column.kind != Column::Kind::engine) return;
        if (for_cylinder != (field.scope == Scope::cylinder))
            refuse(
                name_, line.number,
                fmt::format("{} is measured once per {}", field.name, for_cylinder ? "engine" : "cylinder"),
                for_cylinder ? "write it in the column engine" : "write it in the cylinder's column");
        CylinderReadings unused;
        CylinderReadings* readings = &unused;
        for (auto& c : sheet_.cylinders)
            if (for_cylinder && c.cylinder == column.cylinder) readings = &c;
        try {
            field.set(sheet_.engine, *readings, text, unit);
        } catch (const BadEntry& bad) {
            const std::string where = for_cylinder ? fmt::format("cylinder {}", column.cylinder) : "engine";
            refuse(name_, line.number, fmt::format("{}, {}: {}", field.name, where, bad.problem), bad.remedy);
        }
    }

    std::string name_;
    char separator_ = ',';
    std::vector<Column> columns_;
    std::set<std::string> taken_;
    Worksheet sheet_;
};

}  // namespace

Worksheet parse_csv_form(std::string_view text, const std::string& name) {
    const auto lines = filled_lines(text);
    if (lines.empty())
        throw Error(ErrorCode::malformed, name, "the worksheet holds only remarks",
                    fmt::format("begin with a line like {}", header_example));
    Table table(lines.front(), name);
    for (std::size_t i = 1; i < lines.size(); ++i) table.take(lines[i]);
    return std::move(table).sheet();
}

std::string csv_template(std::span<const int> cylinders) {
    std::string text =
        "# Fill in what was measured; leave empty what was not. A cell may hold its own unit.\n";
    for (const Field& field : worksheet_fields())
        text += fmt::format("# {} ({}): {}\n", field.name,
                            field.scope == Scope::cylinder ? "each cylinder" : "engine", field.help);
    text += "quantity,unit,engine";
    for (const int cylinder : cylinders) text += fmt::format(",{}", cylinder);
    text += '\n';
    for (const Field& field : worksheet_fields())
        text += fmt::format("{},{},{}\n", field.name, field.unit, std::string(cylinders.size(), ','));
    return text;
}

}  // namespace evenstroke::findings
