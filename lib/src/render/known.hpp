// What every form of output asks of a result in the same way: what a field means only under a condition, and
// the notices of all stages.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "evenstroke/analyse.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::render {

inline constexpr double psi_per_kpa = 1 / kpa_per_psi;

/// `value` when the trace is in `unit`; a figure in recorded units is no amperes or volts.
[[nodiscard]] inline std::optional<double> in_unit(const Trace& trace, std::string_view unit,
                                                   std::optional<double> value) {
    return trace.unit == unit ? value : std::nullopt;
}

/// Whether TDC is known, and with it the lead from the mark to it.
[[nodiscard]] inline bool tdc_known(const CrankAngle& angle) {
    return angle.offset_sd_deg < tdc_unknown_sd_deg;
}

/// The notices of every stage, in the order of the stages.
[[nodiscard]] inline std::vector<Notice> all_notices(const Recording& recording, const Analysis& a) {
    std::vector<Notice> all = recording.notices;
    for (const auto* more :
         {&a.trace.notices, &a.cranking.notices, &a.angle.notices, &a.contribution.notices})
        all.insert(all.end(), more->begin(), more->end());
    return all;
}

}  // namespace evenstroke::render
