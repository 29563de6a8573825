// How the program ends: exit codes, and what is said on standard error.
#pragma once

#include <exception>
#include <string>

#include "evenstroke/error.hpp"

namespace evenstroke::cli {

inline constexpr int exit_analysed = 0;
inline constexpr int exit_failed = 1;
inline constexpr int exit_usage = 2;
inline constexpr int exit_no_verdict = 3;

/// "PLACE: problem." and the remedy, wrapped for standard error.
[[nodiscard]] std::string error_text(const Error& error, int columns);

// Each says on standard error what happened, and returns the exit code. `command` is empty when none was
// named.
[[nodiscard]] int report_usage(const std::string& problem, const std::string& command);
[[nodiscard]] int report(const Error& error);
[[nodiscard]] int report(const std::exception& error);

}  // namespace evenstroke::cli
