// Where the unfired cranking of a load ends. Private to the library.
#pragma once

#include <cstddef>

#include "evenstroke/trace.hpp"
#include "load_view.hpp"
#include "usable_end.hpp"

namespace evenstroke::cranking {

/// The end of unfired cranking and its cause. A release drops the load at once; an engine that starts carries
/// the starter along, so that the load dies away over tenths of a second, and what counts ends before that
/// fall.
[[nodiscard]] UsableEnd end_of_load(const LoadView& view, const Span& burst, std::size_t settled,
                                    Quantity quantity);

}  // namespace evenstroke::cranking
