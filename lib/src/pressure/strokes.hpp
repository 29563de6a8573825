// Where in a cycle the gas-exchange strokes lie, as the compressions alone show it.
#pragma once

namespace evenstroke::pressure {

/// A part of a cycle, in cycles after the peak; before it they are negative. A leak brings the peak 30
/// degrees before TDC at most, 0.04 of a cycle, which the parts allow for.
struct Part {
    double first, last;
};

/// The end of the intake stroke, about 230 to 180 degrees before TDC.
inline constexpr Part intake_stroke{-0.33, -0.25};
/// The exhaust stroke, about 210 to 290 degrees after TDC: its valve is wide open and nothing throttles it,
/// so that the cylinder stands at ambient pressure.
inline constexpr Part exhaust_stroke{0.29, 0.40};

}  // namespace evenstroke::pressure
