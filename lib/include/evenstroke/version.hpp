// Which Evenstroke this is.
#pragma once

namespace evenstroke {

/// The library's version, "major.minor.patch", as the build file states it.
[[nodiscard]] const char* version();

}  // namespace evenstroke
