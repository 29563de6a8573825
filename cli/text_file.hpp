// Small files read whole.
#pragma once

#include <string>

namespace evenstroke::cli {

/// The file's bytes; "-" is standard input. Throws Error{cannot_open} (missing, a folder, no permission) or
/// Error{unsupported} (too large for something written by hand).
[[nodiscard]] std::string read_text_file(const std::string& path);

}  // namespace evenstroke::cli
