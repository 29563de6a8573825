// The pictures on the page of `crank`, as inline SVG.
#pragma once

#include <string>

#include "evenstroke/analyse.hpp"

namespace evenstroke::render {

/// The scale over the bars: 0, 100, and a mark where "weak" begins.
[[nodiscard]] std::string bar_scale(double weak_below_pct);
/// One cylinder's contribution from 0 to 100 %: a bar whose pattern follows the verdict, its interval as a
/// whisker, a mark at the weak limit. What is not known is not drawn.
[[nodiscard]] std::string contribution_bar(const CylinderContribution& cylinder, Verdict verdict,
                                           double weak_below_pct);

/// The mean cycle over 720 degrees with the fitted model and the firing TDCs; empty when no cycle was
/// measured.
[[nodiscard]] std::string cycle_picture(const Analysis& analysis);
/// The whole recording, its analysed part marked; of a wheel its speed. Empty when there is nothing to draw.
[[nodiscard]] std::string trace_picture(const Recording& recording, const Analysis& analysis);

}  // namespace evenstroke::render
