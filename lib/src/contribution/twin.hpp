// What two cylinders leave open: a twin that fires unevenly is not to be taken for an even one with a dead
// cylinder, and without a reference the one compression of an uneven one may be either cylinder's.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>

#include "evenstroke/engine.hpp"
#include "evenstroke/error.hpp"

namespace evenstroke::contribution {

/// The intervals of the likeliest twin that fires unevenly, where `layout` is a twin that fires evenly,
/// `found` has a weak cylinder, and that other twin makes the trace so much better. `cost_of` fits a layout
/// and gives its cost; empty: it makes no such trace. Where no reference makes one cylinder the first, the
/// shorter interval is named first.
[[nodiscard]] std::optional<EngineLayout> likelier_twin(
    const EngineLayout& layout, bool first_known, const Eigen::ArrayXd& found_pct, double found_cost,
    const std::function<std::optional<double>(const EngineLayout&)>& cost_of);

[[nodiscard]] Notice likelier_twin_notice(const EngineLayout& twin);

/// Whether `layout` is a twin that fires unevenly, of which one cylinder does next to nothing: where no
/// reference tells, either may be that one.
[[nodiscard]] bool lone_compression(const EngineLayout& layout, const Eigen::ArrayXd& found_pct);

[[nodiscard]] Notice lone_compression_notice();

}  // namespace evenstroke::contribution
