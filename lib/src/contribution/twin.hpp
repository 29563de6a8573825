// What two cylinders leave open without a reference: the one compression of a twin may be either cylinder's
// where it fires unevenly, and look like both at half the speed where it fires evenly.
#pragma once

#include <Eigen/Core>

#include "evenstroke/engine.hpp"
#include "evenstroke/error.hpp"

namespace evenstroke::contribution {

/// Whether `layout` is a twin that fires unevenly, of which one cylinder does next to nothing: where no
/// reference tells, either may be that one.
[[nodiscard]] bool lone_compression(const EngineLayout& layout, const Eigen::ArrayXd& found_pct);

[[nodiscard]] Notice lone_compression_notice();

/// Of an even twin without a reference, whose compressions come as at `speed_rpm` if both compress.
[[nodiscard]] Notice lone_speed_notice(double speed_rpm);

}  // namespace evenstroke::contribution
