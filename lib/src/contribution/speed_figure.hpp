// The mean speed of cranking with its interval.
#pragma once

#include <optional>
#include <span>

#include "evenstroke/contribution.hpp"

namespace evenstroke::contribution {

/// `rpm`, the mean speed over whole settled cycles, with the 95 % interval of that mean from the scatter of
/// their `periods_s`; empty when fewer than two periods tell none.
[[nodiscard]] std::optional<Figure> speed_figure(double rpm, std::span<const double> periods_s);

}  // namespace evenstroke::contribution
