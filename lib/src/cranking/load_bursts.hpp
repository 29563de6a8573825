// The stretches of a load in which a starter turned. Private to the library.
#pragma once

#include <cstddef>
#include <vector>

#include "evenstroke/recording.hpp"
#include "load_view.hpp"

namespace evenstroke::cranking {

/// A burst shorter than this holds no settled cycle.
inline constexpr double shortest_burst_s = 0.4;

/// What the search found.
struct LoadBursts {
    double level = 0;         ///< the usual load while cranking; 0 where nothing rises above rest
    double limit = 0;         ///< above it the starter is engaged …
    double end_limit = 0;     ///< … and above this still at the end: it may coast between two humps
    std::vector<Span> spans;  ///< ascending
};

/// Bursts from sample `from` on, by the smoothed load.
[[nodiscard]] LoadBursts find_bursts(const LoadView& view, std::size_t from);

/// `burst` as the load itself has it: the smoothing of the search blurs its steep ends.
[[nodiscard]] Span sharpened(const LoadView& view, const Span& burst, const LoadBursts& bursts);

}  // namespace evenstroke::cranking
