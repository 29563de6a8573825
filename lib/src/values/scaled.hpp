// Recorded values in a physical unit. Private.
#pragma once

#include <span>
#include <string>
#include <vector>

namespace evenstroke {

/// Each of `values` times `factor`, plus `offset`; what is no number stays none. Throws Error{bad_option}
/// with `place` and `remedy` where one becomes larger than a value can be.
[[nodiscard]] std::vector<float> scaled(std::span<const float> values, double factor, double offset,
                                        const std::string& place, const std::string& remedy);

}  // namespace evenstroke
