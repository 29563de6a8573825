// The stretch of a load that is searched for cranking. Private to the library.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>

namespace evenstroke::cranking {

/// The starter's own inrush lasts at most this long: so long, at least, the run-up.
inline constexpr double shortest_run_up_s = 0.3;

struct LoadView {
    std::span<const float> load;
    double rate_hz;
    double start_s;
    [[nodiscard]] std::size_t samples(double seconds) const {
        return static_cast<std::size_t>(std::max(1.0, std::round(seconds * rate_hz)));
    }
    [[nodiscard]] double time_s(std::size_t i) const { return start_s + static_cast<double>(i) / rate_hz; }
};

}  // namespace evenstroke::cranking
