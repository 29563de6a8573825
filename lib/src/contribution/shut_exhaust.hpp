// A cylinder whose exhaust valve stays shut: it compresses twice a cycle, and its fellows seem weak.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "evenstroke/angle.hpp"
#include "evenstroke/contribution.hpp"
#include "evenstroke/error.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// `best`, or what is found with the exhaust valve of one cylinder shut where that is clearly likelier; where
/// it is no less likely, `best` says so. It is tried where a cylinder seems to have lost something, from
/// each of `tried`, the points that the search ended at.
[[nodiscard]] FoundFit or_with_shut_exhaust(const FitData& data, const EngineLayout& layout,
                                            const FitOptions& options, std::span<const FitPoint> tried,
                                            FoundFit best);

/// The likelier of two searches' fits. One with a shut exhaust valve is as sure as it would be within one
/// search; where the other has it and is about as likely, that remains open.
[[nodiscard]] FitResult likelier(FitResult one, FitResult other);

/// The cylinder of that kind in `fit`; empty where all exhaust valves open.
[[nodiscard]] std::optional<ShutExhaust> exhaust_shut(const FitResult& fit);

/// Takes away what `out` says of a cylinder that is surely shut: how much it traps cannot be told.
void forget_shut(Contribution& out);

/// How much such a cylinder traps is not known, and of the one that fires a turn later only that it is no
/// lower than the lowest; the others may be as much higher as they would be without these two.
void doubt_shut(const ShutExhaust& shut, const EngineLayout& layout, const Eigen::ArrayXd& pct,
                Eigen::ArrayXd& low_pct, Eigen::ArrayXd& high_pct);

[[nodiscard]] Notice shut_exhaust_notice(const ShutExhaust& shut, const EngineLayout& layout,
                                         const std::vector<CylinderName>& names);

}  // namespace evenstroke::contribution
