// The word for each cylinder.
#pragma once

#include <vector>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

/// A difference that is more than chance is only worth a word from here on: healthy cylinders of one engine
/// differ by a few percent, and enough cycles would show any difference. Near the 10 % that common practice
/// (no published source) lets pass between cylinders.
inline constexpr double least_difference_pct = 8;

/// [cylinders] by position. Weak: the whole interval lies below `weak_below_pct`. Low: not weak, but below
/// the median of the others by more than chance. Unsure: the interval reaches below `weak_below_pct`, or is
/// not known. Even: none of these.
[[nodiscard]] std::vector<Verdict> verdicts(const std::vector<CylinderContribution>& cylinders,
                                            double weak_below_pct);

}  // namespace evenstroke::findings
