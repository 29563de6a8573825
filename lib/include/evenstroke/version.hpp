// Which Evenstroke this is.
#pragma once

#include <string_view>

namespace evenstroke {

/// The library's version, "major.minor.patch", as the build file states it.
[[nodiscard]] std::string_view version();

}  // namespace evenstroke
