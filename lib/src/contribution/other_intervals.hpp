// Two and three cylinders fire at such different intervals that wrong ones can be told from the trace.
#pragma once

#include <functional>
#include <optional>

#include "evenstroke/engine.hpp"
#include "evenstroke/error.hpp"

namespace evenstroke::contribution {

/// The likeliest of the usual layouts with as many cylinders, where `layout` has two or three and that layout
/// makes the trace so much better than at `found_cost`. `cost_of` fits a layout and gives its cost; empty: it
/// makes no such trace. Where no reference makes one cylinder the first, the same intervals begun at another
/// cylinder are the same.
[[nodiscard]] std::optional<EngineLayout> likelier_intervals(
    const EngineLayout& layout, bool first_known, double found_cost,
    const std::function<std::optional<double>(const EngineLayout&)>& cost_of);

[[nodiscard]] Notice other_intervals_notice(const EngineLayout& taken, const EngineLayout& likelier);

}  // namespace evenstroke::contribution
