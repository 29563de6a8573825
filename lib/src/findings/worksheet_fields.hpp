// The worksheet's quantities, one table for both forms, the template and the documents.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "evenstroke/worksheet.hpp"

namespace evenstroke::findings {

/// What is wrong with one entry, and what to write instead; the reader adds the place.
struct BadEntry {
    std::string problem;
    std::string remedy;
};

enum class Scope { cylinder, engine };

/// One quantity: its name in the worksheet, and how its text is taken in.
struct Field {
    const char* name;
    Scope scope;
    const char* unit;  ///< suggested in the template; empty for words
    const char* help;
    /// Sets the value from its text, `unit` being the unit that stands beside it (may be empty). Cylinder
    /// fields set `cylinder`, others `engine`. Throws BadEntry.
    void (*set)(EngineReadings& engine, CylinderReadings& cylinder, std::string_view text,
                std::string_view unit);
};

[[nodiscard]] std::span<const Field> worksheet_fields();
[[nodiscard]] const Field* find_field(std::string_view name);
/// The names of all fields of this scope, for messages.
[[nodiscard]] std::string field_names(Scope scope);

}  // namespace evenstroke::findings
