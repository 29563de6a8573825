// Amperes, volts and swing of a cranking load. Private to the library.
#pragma once

#include <cstddef>
#include <optional>

#include "evenstroke/cranking.hpp"
#include "load_signal.hpp"
#include "load_view.hpp"

namespace evenstroke::cranking {

/// A load that swings less than this while the starter turns it shows no compression: on simulated engines of
/// up to twelve cylinders it is 7 % and more, with the plugs out 1 to 4 % of ripple and noise.
inline constexpr double flat_ratio = 0.05;

/// Inrush, mean, rest and lowest of the trace, as its quantity has them. `saw_inrush`: rest was recorded
/// before the burst.
void measure_levels(const Trace& trace, const LoadSignal& load, const LoadView& view, const Span& burst,
                    std::size_t settled, bool saw_inrush, Cranking& cranking);

/// Cranking::swing_ratio, between two samples of the view.
[[nodiscard]] std::optional<double> swing_ratio_of(const LoadView& view, std::size_t settled,
                                                   std::size_t end);

/// The starter draws its full inrush all along: it turns nothing.
[[nodiscard]] bool stands_still(const LoadView& view, const Span& burst, std::size_t settled,
                                const Cranking& cranking);

/// Says where the amperes are none that a starter draws.
void say_doubtful_scale(const Trace& trace, Cranking& cranking);

}  // namespace evenstroke::cranking
