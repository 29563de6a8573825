// Interleaved samples as a 16-bit audio file. It stands here because libsndfile's home is this stage.
#pragma once

#include <string>
#include <vector>

namespace evenstroke {

/// The bytes of a WAV or FLAC file. `frames`: interleaved, -1 to 1. Throws Error{unsupported} when the format
/// cannot hold so many channels or this rate; `name` stands for the file.
[[nodiscard]] std::string audio_file_bytes(const std::vector<float>& frames, int channels, int rate_hz,
                                           bool flac, const std::string& name);

}  // namespace evenstroke
