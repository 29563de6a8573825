// The name that was probably meant.
#pragma once

#include <string>
#include <vector>

namespace evenstroke::cli {

/// The one of `names` that differs from `word` by the fewest letters (added, left out, replaced); empty when
/// all are far from it.
[[nodiscard]] std::string nearest(const std::string& word, const std::vector<std::string>& names);

}  // namespace evenstroke::cli
