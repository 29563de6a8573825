// What the fit tells besides the contributions: the starter's drive, and the kind of each cylinder's loss.
#pragma once

#include <vector>

#include "evenstroke/contribution.hpp"
#include "fit.hpp"

namespace evenstroke::contribution {

/// A cylinder's loss of peak pressure against a sound one, in natural logarithms (0.1 is about 10 %).
struct LossShares {
    double leak = 0;           ///< by its own leak
    double charge = 0;         ///< by its own charge and compression ratio
    double difference_sd = 0;  ///< standard deviation of leak less charge
};

/// [cylinders]; `fit` is a fit of `data`.
[[nodiscard]] std::vector<LossShares> loss_shares(const FitResult& fit, const FitData& data,
                                                  const EngineLayout& layout);

/// Which of the two explains the loss; empty when the fit cannot separate them.
[[nodiscard]] std::optional<LossKind> loss_kind(const LossShares& shares);

/// The drive, from a current; empty for a series-wound starter.
[[nodiscard]] std::optional<DriveRatios> drive_ratios(const FitResult& fit, const FitData& data,
                                                      const EngineLayout& layout);

/// Puts the drive (`in_amperes` only) and the kinds of loss into `out`.
void add_quantities(Contribution& out, const FitResult& fit, const FitData& data, const EngineLayout& layout,
                    bool in_amperes);

}  // namespace evenstroke::contribution
