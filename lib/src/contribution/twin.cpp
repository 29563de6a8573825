#include "twin.hpp"

#include <fmt/core.h>

namespace evenstroke::contribution {

namespace {

/// Below this a cylinder's own compression no longer marks its place in the cycle.
constexpr double next_to_nothing_pct = 30;

}  // namespace

bool lone_compression(const EngineLayout& layout, const Eigen::ArrayXd& found_pct) {
    return layout.cylinders() == 2 && !layout.fires_evenly() && found_pct.minCoeff() < next_to_nothing_pct;
}

Notice lone_compression_notice() {
    return {
        "lone-compression",
        "Only one of the two cylinders compresses, and the firing intervals alone do not tell which: record "
        "a sync on a known cylinder too, or measure both with a gauge."};
}

Notice lone_speed_notice(double speed_rpm) {
    return {"speed-may-be-double",
            fmt::format(
                "Both cylinders compress alike at {:.0f} rpm, which the model does not follow well; or only "
                "one of them does, and the engine turns at {:.0f} rpm: record a sync on a known cylinder "
                "too, or measure both with a gauge",
                speed_rpm, 2 * speed_rpm)};
}

}  // namespace evenstroke::contribution
