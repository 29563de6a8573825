// Where a load has settled. Private to the library.
#pragma once

#include <cstddef>

#include "evenstroke/recording.hpp"
#include "load_view.hpp"

namespace evenstroke::cranking {

/// The sample of `burst` at which the load has come down to its settled mean; at the burst's end when it is
/// over before that.
[[nodiscard]] std::size_t settle(const LoadView& view, const Span& burst);

}  // namespace evenstroke::cranking
