// The single compression events, for plotting.
#pragma once

#include <vector>

#include "cycle_average.hpp"
#include "evenstroke/contribution.hpp"
#include "load_samples.hpp"

namespace evenstroke::contribution {

/// One event for every firing TDC in the whole cycles of `average`, in time order. `tdc_share` is the place
/// of each position's TDC in the cycle's time; `by_cycle_pct` cycles x cylinders.
[[nodiscard]] std::vector<CompressionEvent> load_events(const Load& load, const PhaseMap& phases,
                                                        const CycleAverage& average,
                                                        const EngineLayout& layout,
                                                        const std::vector<double>& tdc_share,
                                                        const Eigen::ArrayXXd& by_cycle_pct);

}  // namespace evenstroke::contribution
