// Mean, 95th percentile and worst of errors; and work shared out over the machine's cores.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace accuracy {

/// The value that `share` (0 to 1) of `values` lie below; `values` is not empty.
[[nodiscard]] double quantile(std::vector<double> values, double share);

/// "mean / 95th percentile / worst", or "n/a" of nothing.
[[nodiscard]] std::string spread(const std::vector<double>& values);

/// Calls `one` with every number below `count`, on all cores.
void in_parallel(std::size_t count, const std::function<void(std::size_t)>& one);

}  // namespace accuracy
