// A wheel's teeth and the runs of them without a pause. Private to the library.
#pragma once

#include <cstddef>
#include <vector>

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

using ToothTimes = std::vector<double>;  ///< seconds, ascending

/// Fewer teeth than this are no cranking: two cycles of the coarsest wheel (two teeth a turn).
inline constexpr std::size_t least_teeth = 8;
/// A pause ends a burst when it is longer than this and than so many usual periods (a piston can hold the
/// crank for a moment on its first compression).
inline constexpr double least_pause_s = 0.35;
inline constexpr double pause_periods = 8.0;

/// The times of the more regular kind of edge, between the times of `options`.
[[nodiscard]] ToothTimes teeth_of(const Trace& trace, const LocateOptions& options);

/// Runs of teeth without a long pause, without chatter at their beginning.
[[nodiscard]] std::vector<ToothTimes> bursts_of(const ToothTimes& times);

/// Of the periods from tooth `first` to tooth `last`.
[[nodiscard]] double median_period(const ToothTimes& times, std::size_t first, std::size_t last);

}  // namespace evenstroke::cranking
