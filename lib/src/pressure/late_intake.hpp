// An intake that is still open where the fit takes the cylinder as shut.
#pragma once

#include <optional>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// Where the intake closes, degrees after firing TDC (negative), when the mean cycle shows that it is later
/// than `taken_as_shut_deg`, at which the fit has `start_kpa` in the cylinder; empty when it is not, or when
/// the cylinder leaks too much to tell.
[[nodiscard]] std::optional<Figure> late_closing_deg(const Pressure& result, double taken_as_shut_deg,
                                                     double start_kpa);

}  // namespace evenstroke::pressure
