#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/angle.hpp"
#include "half_cycle.hpp"

namespace evenstroke {

namespace {

/// Two firing TDCs are the same when they are closer than this: intervals are written to half a degree.
constexpr double same_tdc_deg = 0.5;

bool tdc_is_known(const CrankAngle& angle, const EngineLayout& layout) {
    if (angle.no_reference || angle.kind == ReferenceKind::none || layout.intervals_deg.empty()) return false;
    const double shortest = *std::min_element(layout.intervals_deg.begin(), layout.intervals_deg.end());
    return angle.offset_sd_deg < shortest / 2;
}

}  // namespace

namespace angle {

std::optional<std::size_t> half_cycle_on(const EngineLayout& layout, std::size_t position) {
    const std::size_t count = layout.intervals_deg.size();
    if (count % 2 != 0) return std::nullopt;
    for (std::size_t i = 0; i < count / 2; ++i)
        if (std::abs(layout.intervals_deg[i] - layout.intervals_deg[i + count / 2]) > same_tdc_deg)
            return std::nullopt;
    return (position + count / 2) % count;
}

}  // namespace angle

std::vector<CylinderName> cylinder_names(const CrankAngle& angle, const EngineLayout& layout) {
    const bool nameable = !layout.order.empty() && tdc_is_known(angle, layout);
    std::vector<CylinderName> names(layout.intervals_deg.size());
    for (std::size_t i = 0; i < names.size(); ++i) {
        auto& name = names[i];
        name.label = fmt::format("position {}", i + 1);
        if (!nameable) continue;
        if (!angle.once_per_turn) {
            name.cylinder = layout.order[i];
            name.label = fmt::format("cylinder {}", layout.order[i]);
        } else if (const auto other = angle::half_cycle_on(layout, i)) {
            name.possible = {layout.order[i], layout.order[*other]};
            name.label = fmt::format("cylinder {} or {}", name.possible[0], name.possible[1]);
        }
    }
    return names;
}

}  // namespace evenstroke
