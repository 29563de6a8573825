// Whether a stage said something.
#pragma once

#include <algorithm>
#include <string_view>
#include <vector>

#include "evenstroke/error.hpp"

namespace evenstroke {

[[nodiscard]] inline bool has_notice(const std::vector<Notice>& notices, std::string_view code) {
    return std::any_of(notices.begin(), notices.end(), [code](const Notice& n) { return n.code == code; });
}

}  // namespace evenstroke
