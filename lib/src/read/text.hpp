// Text recordings: the first block tells the table, the rest streams through it.
#pragma once

#include <cstddef>
#include <string>

#include "evenstroke/read.hpp"
#include "read/bytes.hpp"

namespace evenstroke::reading {

inline constexpr std::size_t text_piece_bytes = 1 << 16;

/// Reads a whole text recording. `piece_bytes`: how much is asked of the source at once; the result does not
/// depend on it. Throws Error.
[[nodiscard]] Recording read_table(ByteSource& source, const std::string& name, const ReadOptions& options,
                                   std::size_t piece_bytes = text_piece_bytes);

}  // namespace evenstroke::reading
