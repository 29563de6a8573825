// Where the valves close and open: where the mean cycle leaves the line of a shut cylinder.
#pragma once

#include <optional>
#include <vector>

#include "evenstroke/pressure.hpp"

namespace evenstroke::pressure {

/// What the model gives outside the fit with both valves shut: kPa every `step_deg` (negative: backwards)
/// from `first_deg` on.
struct ClosedLine {
    double first_deg = 0;
    double step_deg = 1;
    std::vector<double> kpa;

    /// Empty beyond either end.
    [[nodiscard]] std::optional<double> at(double deg) const;
};

/// Sets plateaux, intake closing and exhaust opening from the mean cycle and the lines `before` and `after`
/// the fit.
void set_valves(Pressure& result, const ClosedLine& before, const ClosedLine& after);

}  // namespace evenstroke::pressure
