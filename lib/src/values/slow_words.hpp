// A time axis that makes the engine slower than any starter turns it. Private.
#pragma once

#include <fmt/core.h>

#include <optional>
#include <string>

#include "values/cranking_limits.hpp"

namespace evenstroke {

/// Why `what` ("the wheel") is not of an engine being cranked where it turns so slowly: the unit of time is
/// wrong. Empty where a starter may turn it.
[[nodiscard]] inline std::optional<std::string> slower_than_a_starter(const char* what, double rpm) {
    if (rpm >= slowest_believed_rpm) return {};
    const char* unit = rpm * 1000 < slowest_believed_rpm ? "microseconds, title it \"Time (us)\""
                                                         : "milliseconds, title it \"Time (ms)\"";
    return fmt::format(
        "{} turns at {:.2g} rpm, slower than any starter: check the unit of the time column; if it is in {}",
        what, rpm, unit);
}

}  // namespace evenstroke
