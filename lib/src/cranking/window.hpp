// The part of a recording that --from and --to leave. Private.
#pragma once

#include <optional>
#include <string>

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

/// Why the part that was asked for lies outside a recording from `start_s` to `end_s`; empty when it does
/// not.
[[nodiscard]] std::optional<std::string> outside_recording(const LocateOptions& options, double start_s,
                                                           double end_s);

}  // namespace evenstroke::cranking
