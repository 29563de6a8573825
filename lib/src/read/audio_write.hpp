// Writes interleaved samples as a 16-bit audio file. It stands here because libsndfile's home is this stage.
#pragma once

#include <string>
#include <vector>

namespace evenstroke {

/// `frames`: interleaved, -1 to 1. Writes beside `path` first and renames, so that nothing half-written
/// stays. Throws Error{cannot_write}.
void write_audio_frames(const std::vector<float>& frames, int channels, int rate_hz, bool flac,
                        const std::string& path);

}  // namespace evenstroke
