#include "read/audio_write.hpp"

#include <sndfile.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <memory>

#include "evenstroke/error.hpp"

namespace evenstroke {

namespace {

/// A growing file in memory, for libsndfile's virtual output.
struct Written {
    std::string bytes;
    sf_count_t at = 0;
};

sf_count_t length(void* user) {
    return static_cast<sf_count_t>(static_cast<Written*>(user)->bytes.size());
}

sf_count_t seek(sf_count_t offset, int whence, void* user) {
    auto& file = *static_cast<Written*>(user);
    const sf_count_t base = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? file.at : length(user);
    file.at = std::max<sf_count_t>(base + offset, 0);
    return file.at;
}

sf_count_t read(void* into, sf_count_t count, void* user) {
    auto& file = *static_cast<Written*>(user);
    const sf_count_t got = std::clamp<sf_count_t>(length(user) - file.at, 0, count);
    std::copy_n(file.bytes.data() + file.at, got, static_cast<char*>(into));
    file.at += got;
    return got;
}

sf_count_t write(const void* from, sf_count_t count, void* user) {
    auto& file = *static_cast<Written*>(user);
    const auto end = static_cast<std::size_t>(file.at + count);
    if (end > file.bytes.size()) file.bytes.resize(end);
    std::copy_n(static_cast<const char*>(from), count, file.bytes.data() + file.at);
    file.at += count;
    return count;
}

sf_count_t tell(void* user) {
    return static_cast<Written*>(user)->at;
}

}  // namespace

std::string audio_file_bytes(const std::vector<float>& frames, int channels, int rate_hz, bool flac,
                             const std::string& name) {
    SF_INFO info{};
    info.channels = channels;
    info.samplerate = rate_hz;
    info.format = (flac ? SF_FORMAT_FLAC : SF_FORMAT_WAV) | SF_FORMAT_PCM_16;
    const auto refuse = [&] {
        throw Error(
            ErrorCode::unsupported, name,
            std::string("this many channels or this rate do not fit ") + (flac ? "FLAC" : "WAV"),
            flac ? "use --format wav, 8 channels at most, or a rate below 655 kHz" : "lower the rate");
    };
    if (!sf_format_check(&info)) refuse();
    Written memory;
    SF_VIRTUAL_IO io{length, seek, read, write, tell};
    std::unique_ptr<SNDFILE, int (*)(SNDFILE*)> file(sf_open_virtual(&io, SFM_WRITE, &info, &memory),
                                                     &sf_close);
    if (!file) refuse();
    // Quantised here, so that rounding is the same everywhere; a reader divides by 32768.
    constexpr float full = 32768;
    constexpr long highest = 32767;
    std::vector<std::int16_t> words(frames.size());
    std::transform(frames.begin(), frames.end(), words.begin(), [=](float value) {
        return static_cast<std::int16_t>(std::min(std::lround(value * full), highest));
    });
    const auto written = sf_write_short(file.get(), words.data(), static_cast<sf_count_t>(words.size()));
    if (written != static_cast<sf_count_t>(words.size()) || sf_close(file.release()) != 0) refuse();
    return std::move(memory.bytes);
}

}  // namespace evenstroke
