#include "evenstroke/contribution.hpp"

#include <cmath>

#include "load_contribution.hpp"
#include "wheel_contribution.hpp"

namespace evenstroke {

std::optional<double> mean_speed_rpm(const CrankAngle& angle, const Contribution& contribution) {
    if (angle.no_reference || !(angle.speed_rpm > 0) || !std::isfinite(angle.speed_rpm)) return std::nullopt;
    return contribution.speed_rpm ? contribution.speed_rpm->value : angle.speed_rpm;
}

Contribution estimate(const Trace& trace, const Cranking& cranking, const CrankAngle& angle,
                      const EngineLayout& layout) {
    Contribution out = trace.quantity == Quantity::wheel
                           ? contribution::estimate_wheel(cranking, angle, layout)
                           : contribution::estimate_load(trace, cranking, angle, layout);
    // One for each cylinder, also where nothing can be told of it.
    out.cylinders.resize(static_cast<std::size_t>(layout.cylinders()));
    return out;
}

}  // namespace evenstroke
