// The load on the starter as the trace shows it: amperes, or volts below rest.
#pragma once

#include <optional>

#include "cycle_average.hpp"

namespace evenstroke::contribution {

struct Load {
    LoadSamples samples;
    std::optional<double>
        inrush;  ///< highest load at engagement; empty when it was not recorded or is clipped
    std::optional<double> rest_v;  ///< level from which a battery's voltage dips; empty for the others
    bool zero_known = true;        ///< false: zero load lies elsewhere by an unknown amount (battery voltage)

    /// High when the starter works hard.
    [[nodiscard]] double effort(std::size_t sample) const { return samples.load[sample]; }
    /// An effort in the trace's own unit: A or V.
    [[nodiscard]] double as_recorded(double effort) const;
};

/// The load over the whole cranking of a current or a voltage. No samples where the trace has none.
[[nodiscard]] Load load_of(const Trace& trace, const Cranking& cranking);

}  // namespace evenstroke::contribution
