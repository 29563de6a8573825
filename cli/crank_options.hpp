// The options of `crank`, one table for the command line and for the columns of a batch manifest.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "command.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/read.hpp"
#include "option_values.hpp"

namespace evenstroke::cli {

/// What the user said about one recording, each value already of its kind.
struct CrankRequest {
    ReadOptions read;
    std::optional<int> cylinders;
    std::vector<int> order;
    std::vector<double> intervals_deg;
    std::optional<int> sync_cylinder;
    std::optional<double> sync_lead_deg;
    TraceOptions trace;
    LocateOptions cranking;
    ReferenceOptions reference;
    FindingOptions findings;
    std::optional<double> reference_peak_kpa;
    std::optional<int> reference_cylinder;
};

/// One option: `name` without dashes is also the manifest's column.
struct CrankOption {
    const char* name;
    const char* value;  ///< what stands for the value in the help
    const char* group;
    const char* help;  ///< with unit and default
    /// Sets the value from its text. Throws BadUsage, or Error when it is of its kind but out of range.
    void (*set)(CrankRequest& request, const std::string& text);
};

[[nodiscard]] std::span<const CrankOption> crank_options();

/// The table as options of a command; `request` must outlive them.
[[nodiscard]] std::vector<Option> crank_flags(CrankRequest& request);
/// The one of them that `name` (without dashes) says; there must be one.
[[nodiscard]] Option crank_flag(CrankRequest& request, std::string_view name);

/// Everything that the stages need. Throws BadUsage (no cylinders, an option without the one it belongs to)
/// or Error{bad_engine, bad_option}.
[[nodiscard]] AnalyseOptions analyse_options(const CrankRequest& request);

}  // namespace evenstroke::cli
