// How wide the load's hump is between two marks. Private to the library.
#pragma once

#include <optional>
#include <span>

#include "evenstroke/trace.hpp"

namespace evenstroke::angle {

/// The share of the time from a mark to the next in which `load`, meant over all marks, stands above the
/// middle of its range; `load` as long as the trace. Empty with fewer than two marks, or where it is
/// constant.
[[nodiscard]] std::optional<double> hump_share(const Trace& trace, std::span<const float> load,
                                               std::span<const double> marks_s);

}  // namespace evenstroke::angle
