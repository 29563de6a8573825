// A cylinder whose exhaust valve stays shut: it compresses twice a cycle, and its fellows seem weak.
#pragma once

#include <optional>
#include <vector>

#include "evenstroke/angle.hpp"
#include "evenstroke/error.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// `best`, or what is found with the exhaust valve of one cylinder shut where that is clearly likelier. It is
/// tried where a cylinder seems to have lost something, from `from`, the point that `best` was found at.
[[nodiscard]] FitResult or_with_shut_exhaust(FitData data, const EngineLayout& layout,
                                             const FitOptions& options, const FitPoint& from, FitResult best);

/// The position of that cylinder in `fit`; empty where all exhaust valves open.
[[nodiscard]] std::optional<std::size_t> exhaust_shut(const FitResult& fit);

/// How much such a cylinder traps is not known, and of the one that fires a turn later only that it is no
/// lower than the lowest.
void doubt_shut(std::size_t position, const EngineLayout& layout, Eigen::ArrayXd& low_pct,
                Eigen::ArrayXd& high_pct);

[[nodiscard]] Notice shut_exhaust_notice(std::size_t position, const EngineLayout& layout,
                                         const std::vector<CylinderName>& names);

}  // namespace evenstroke::contribution
