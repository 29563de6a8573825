// Audio containers through libsndfile: samples stay fractions of full scale.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "evenstroke/read.hpp"
#include "read/bytes.hpp"

namespace evenstroke::reading {

inline constexpr std::size_t audio_piece_frames = 16'384;

/// True when the first bytes are those of WAV, RF64, W64, FLAC, AIFF or CAF.
[[nodiscard]] bool is_audio(std::string_view first_bytes);

/// Reads an audio file that can be sought in. `piece_frames`: how much is asked for at once; the result does
/// not depend on it. Throws Error.
[[nodiscard]] Recording read_audio(const FileBytes& file, const std::string& name, const ReadOptions& options,
                                   std::size_t piece_frames = audio_piece_frames);

/// Reads audio that comes down a pipe, by holding the file in memory. Throws Error{unsupported} when it is
/// larger than 128 MiB.
[[nodiscard]] Recording read_audio_pipe(ByteSource& source, const std::string& name,
                                        const ReadOptions& options);

}  // namespace evenstroke::reading
