// Two recordings on one scale. Each is relative to its own highest cylinder, which may be the one that
// changed.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace evenstroke::findings {

/// One value a position, percent; empty where it is not known.
using Means = std::vector<std::optional<double>>;

/// Positions that did not change, as far as the two sets of means can tell: of those above `weak_pct` in
/// both, the majority whose ratios agree best. Ascending; never empty when a mean is known.
[[nodiscard]] std::vector<std::size_t> steady_positions(const Means& first_pct, const Means& second_pct,
                                                        double weak_pct);

/// Each usable cycle's value at `position` relative to the mean of the other steady positions of that cycle,
/// times `scale_pct`. Empty when no other is steady.
[[nodiscard]] std::vector<double> relative_values(const std::vector<Means>& by_cycle_pct,
                                                  std::size_t position,
                                                  const std::vector<std::size_t>& steady, double scale_pct);

/// Mean of each position over its known values, empty for none; no position without cycles.
[[nodiscard]] Means position_means(const std::vector<Means>& by_cycle_pct);
/// Mean of these positions but `left_out`; empty without any other, or when one of them has no value.
[[nodiscard]] std::optional<double> mean_of(const Means& means, const std::vector<std::size_t>& positions,
                                            std::size_t left_out);

}  // namespace evenstroke::findings
