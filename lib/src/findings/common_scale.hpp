// Two recordings on one scale. Each is relative to its own highest cylinder, which may be the one that
// changed.
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <vector>

namespace evenstroke::findings {

/// Positions that did not change, as far as the two sets of means can tell: of those above `weak_pct` in
/// both, the majority whose ratios agree best. Ascending; never empty when a mean is known.
[[nodiscard]] std::vector<std::size_t> steady_positions(const Eigen::ArrayXd& first_pct,
                                                        const Eigen::ArrayXd& second_pct, double weak_pct);

/// Each usable cycle's value at `position` relative to the mean of the other steady positions of that cycle,
/// times `scale_pct`. Empty when no other is steady.
[[nodiscard]] std::vector<double> relative_values(const Eigen::ArrayXXd& by_cycle_pct, std::size_t position,
                                                  const std::vector<std::size_t>& steady, double scale_pct);

/// Mean of each column over its finite values; NaN for none.
[[nodiscard]] Eigen::ArrayXd column_means(const Eigen::ArrayXXd& by_cycle_pct);
/// Mean of these positions but `left_out`.
[[nodiscard]] double mean_of(const Eigen::ArrayXd& means, const std::vector<std::size_t>& positions,
                             std::size_t left_out);

}  // namespace evenstroke::findings
