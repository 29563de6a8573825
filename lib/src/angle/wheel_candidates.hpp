// The wheel that the edges themselves show: marks that return after the same number of edges. Private to the
// library. Method: docs/wheel.md.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "evenstroke/recording.hpp"

namespace evenstroke {

/// How far the middle one of three neighbouring periods or speeds strays from the mean of the others, as a
/// logarithm: a steady change of the speed is taken out.
[[nodiscard]] double stray(double before, double at, double after);

/// Whether something strays after the same number of edges again and again, as on no even wheel: it has gaps
/// or extra teeth. `rising`: which kind of edge is looked at.
[[nodiscard]] bool marked(std::span<const Edge> edges, bool rising);

/// The wheel with one gap of one or two teeth a turn ("30-1"), or one extra tooth ("24+1"), whose mark would
/// return as that of the `rising` or the falling edges does; nothing where none returns. It is only to be
/// tried: the edges do not show how often a turn the mark comes, so that 36-2-2 gives 18-2.
[[nodiscard]] std::optional<std::string> wheel_shown(std::span<const Edge> edges, bool rising);

}  // namespace evenstroke
