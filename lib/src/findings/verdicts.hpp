// The word for each cylinder.
#pragma once

#include <vector>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

/// The tighter of the published spreads between cylinders, percent of the highest. Source: common practice
/// (10 %), beside the 25 and 30 % of service manuals.
inline constexpr double tight_spread_pct = 10;

/// A difference that is more than chance is only worth a word from here on: half the tighter spread. Healthy
/// cylinders of one engine differ by a few percent, and enough cycles would show any difference.
inline constexpr double least_difference_pct = tight_spread_pct / 2;

/// [cylinders] by position. Weak: the whole interval lies below `weak_below_pct`. Low: not weak, but below
/// the median of the others by more than chance. Unsure: the interval reaches below `weak_below_pct`, or is
/// not known. Even: none of these.
[[nodiscard]] std::vector<Verdict> verdicts(const std::vector<CylinderContribution>& cylinders,
                                            double weak_below_pct);

}  // namespace evenstroke::findings
