#include "read/audio_write.hpp"

#include <sndfile.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <memory>

#include "evenstroke/error.hpp"

namespace evenstroke {

void write_audio_frames(const std::vector<float>& frames, int channels, int rate_hz, bool flac,
                        const std::string& path) {
    const std::string part = path + ".part";
    const auto refuse = [&](const std::string& problem) {
        std::remove(part.c_str());
        throw Error(ErrorCode::cannot_write, path, problem,
                    "choose a folder that can be written and has room");
    };
    SF_INFO info{};
    info.channels = channels;
    info.samplerate = rate_hz;
    info.format = (flac ? SF_FORMAT_FLAC : SF_FORMAT_WAV) | SF_FORMAT_PCM_16;
    if (!sf_format_check(&info))
        throw Error(
            ErrorCode::unsupported, path, "this many channels or this rate do not fit the audio format",
            flac ? "use --format wav, 8 channels at most, or a rate below 655 kHz" : "lower the rate");
    std::unique_ptr<SNDFILE, int (*)(SNDFILE*)> file(sf_open(part.c_str(), SFM_WRITE, &info), &sf_close);
    if (!file) refuse(sf_strerror(nullptr));
    // Quantised here, so that rounding is the same everywhere; a reader divides by 32768.
    constexpr float full = 32768;
    constexpr long highest = 32767;
    std::vector<std::int16_t> words(frames.size());
    std::transform(frames.begin(), frames.end(), words.begin(), [=](float value) {
        return static_cast<std::int16_t>(std::min(std::lround(value * full), highest));
    });
    const auto written = sf_write_short(file.get(), words.data(), static_cast<sf_count_t>(words.size()));
    const bool whole = written == static_cast<sf_count_t>(words.size());
    const bool closed = sf_close(file.release()) == 0;
    if (!whole || !closed) refuse("cannot be written to its end: the disk may be full");
    if (std::rename(part.c_str(), path.c_str()) != 0) refuse("the finished file could not be put in place");
}

}  // namespace evenstroke
