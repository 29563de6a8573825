#include "peak.hpp"

#include <cassert>

namespace evenstroke::signal {

namespace {

template <typename Value>
Peak around(std::span<const Value> values, std::size_t index) {
    assert(index < values.size());
    const auto at = [&values](std::size_t i) { return static_cast<double>(values[i]); };
    if (index == 0 || index + 1 == values.size()) return {.offset = 0, .value = at(index), .curvature = 0};
    return parabolic_peak(at(index - 1), at(index), at(index + 1));
}

}  // namespace

Peak parabolic_peak(double before, double middle, double after) {
    const double bend = before - 2 * middle + after;
    if (bend == 0) return {.offset = 0, .value = middle, .curvature = 0};
    const double offset = (before - after) / (2 * bend);
    return {.offset = offset, .value = middle - (before - after) * offset / 4, .curvature = bend / 2};
}

Peak parabolic_peak(std::span<const double> values, std::size_t index) {
    return around(values, index);
}

Peak parabolic_peak(std::span<const float> values, std::size_t index) {
    return around(values, index);
}

}  // namespace evenstroke::signal
