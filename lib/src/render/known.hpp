// What a result's fields mean only under a condition: asked in one place by every form of output.
#pragma once

#include <optional>
#include <string_view>

#include "evenstroke/analyse.hpp"

namespace evenstroke::render {

/// `value` when the trace is in `unit`; a figure in recorded units is no amperes or volts.
[[nodiscard]] inline std::optional<double> in_unit(const Trace& trace, std::string_view unit,
                                                   std::optional<double> value) {
    return trace.unit == unit ? value : std::nullopt;
}

/// Whether TDC is known, and with it the lead from the mark to it.
[[nodiscard]] inline bool tdc_known(const CrankAngle& angle) {
    constexpr double unknown_offset_sd_deg = 180;  // the contract of CrankAngle
    return angle.offset_sd_deg < unknown_offset_sd_deg;
}

}  // namespace evenstroke::render
