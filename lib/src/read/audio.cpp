#include "read/audio.hpp"

#include <fmt/core.h>
#include <sndfile.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstring>
#include <memory>
#include <span>
#include <vector>

#include "evenstroke/error.hpp"
#include "read/finish.hpp"

namespace evenstroke::reading {

namespace {

/// A piped audio file is held whole, since the containers must be sought in; samples come on top.
constexpr std::size_t most_piped_bytes = 128U << 20U;
constexpr int most_channels = 256;

struct CloseFile {
    void operator()(SNDFILE* file) const { sf_close(file); }
};
using SoundFile = std::unique_ptr<SNDFILE, CloseFile>;

/// A file in memory, for libsndfile's virtual input.
struct MemoryFile {
    std::string_view bytes;
    sf_count_t at = 0;
};

sf_count_t memory_length(void* user) {
    return static_cast<sf_count_t>(static_cast<MemoryFile*>(user)->bytes.size());
}

sf_count_t memory_seek(sf_count_t offset, int whence, void* user) {
    auto& file = *static_cast<MemoryFile*>(user);
    const sf_count_t size = memory_length(user);
    const sf_count_t base = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? file.at : size;
    file.at = std::clamp<sf_count_t>(base + offset, 0, size);
    return file.at;
}

sf_count_t memory_read(void* into, sf_count_t count, void* user) {
    auto& file = *static_cast<MemoryFile*>(user);
    const sf_count_t got = std::clamp<sf_count_t>(memory_length(user) - file.at, 0, count);
    std::memcpy(into, file.bytes.data() + file.at, static_cast<std::size_t>(got));
    file.at += got;
    return got;
}

sf_count_t memory_write(const void*, sf_count_t, void*) {
    return 0;
}

sf_count_t memory_tell(void* user) {
    return static_cast<MemoryFile*>(user)->at;
}

std::string container_name(int format) {
    switch (format & SF_FORMAT_TYPEMASK) {
        case SF_FORMAT_WAV:
        case SF_FORMAT_WAVEX:
            return "WAV";
        case SF_FORMAT_W64:
            return "W64";
        case SF_FORMAT_RF64:
            return "RF64";
        case SF_FORMAT_FLAC:
            return "FLAC";
        case SF_FORMAT_AIFF:
            return "AIFF";
        case SF_FORMAT_CAF:
            return "CAF";
        default:
            return "audio";
    }
}

std::string sample_name(int format) {
    switch (format & SF_FORMAT_SUBMASK) {
        case SF_FORMAT_PCM_S8:
        case SF_FORMAT_PCM_U8:
            return "8 bit";
        case SF_FORMAT_PCM_16:
            return "16 bit";
        case SF_FORMAT_PCM_24:
            return "24 bit";
        case SF_FORMAT_PCM_32:
            return "32 bit";
        case SF_FORMAT_FLOAT:
            return "float";
        case SF_FORMAT_DOUBLE:
            return "double";
        default:
            return "compressed";
    }
}

/// libsndfile shortens a container that ends early to what is there, and notes the length promised in its
/// log as "data : PROMISED (should be FOUND)", or so of the whole for W64 and RF64. Streamed files promise 0
/// or the largest number: no promise.
bool header_promises_more(SNDFILE* file) {
    std::array<char, 16384> log{};
    sf_command(file, SFC_GET_LOG_INFO, log.data(), static_cast<int>(log.size()));
    const std::string_view text(log.data());
    for (const std::string_view chunk : {"data : ", "SSND : ", "riff : ", "Riff size : "}) {
        const std::size_t at = text.find(chunk);
        if (at == std::string_view::npos) continue;
        unsigned long long promised = 0;
        unsigned long long found = 0;
        const std::string line(text.substr(at + chunk.size(), 80));
        if (std::sscanf(line.c_str(), "%llu (should be %llu)", &promised, &found) != 2) continue;
        constexpr unsigned long long no_promise = 0xFFFFFF00;  // 32 bits all set, less a header
        if (promised > found && promised < no_promise) return true;
    }
    return false;
}

/// Bytes of one sample as it is stored; 0 where that is not one number a sample.
std::size_t sample_bytes(int format) {
    if ((format & SF_FORMAT_TYPEMASK) == SF_FORMAT_FLAC) return 0;
    switch (format & SF_FORMAT_SUBMASK) {
        case SF_FORMAT_PCM_S8:
        case SF_FORMAT_PCM_U8:
            return 1;
        case SF_FORMAT_PCM_16:
            return 2;
        case SF_FORMAT_PCM_24:
            return 3;
        case SF_FORMAT_PCM_32:
        case SF_FORMAT_FLOAT:
            return 4;
        case SF_FORMAT_DOUBLE:
            return 8;
        default:
            return 0;
    }
}

/// A recorder that was not stopped cleanly leaves a header that counts none or few of the samples behind it.
/// What else stands in a file (titles, markers) is far smaller than its samples.
bool counts_too_few(const SF_INFO& info, std::size_t frames, std::size_t file_bytes) {
    constexpr double most_other_share = 0.25;
    const std::size_t counted_bytes =
        frames * static_cast<std::size_t>(info.channels) * sample_bytes(info.format);
    return sample_bytes(info.format) > 0 && file_bytes > counted_bytes &&
           static_cast<double>(file_bytes - counted_bytes) >
               most_other_share * static_cast<double>(file_bytes);
}

constexpr const char* rewrite_remedy =
    "the recorder was not stopped cleanly: open the file with an audio editor that repairs headers, and save "
    "it";

[[noreturn]] void refuse_broken(const std::string& name, std::size_t sample, const std::string& problem) {
    throw Error(
        ErrorCode::malformed, fmt::format("{}, sample {}", name, sample), problem,
        "the file was cut short or damaged: copy it again, or repair it with an audio editor and keep "
        "the part before this sample");
}

void check_info(const SF_INFO& info, const std::string& name) {
    if (info.samplerate <= 0)
        throw Error(ErrorCode::malformed, name, "the header gives a sample rate of 0 Hz",
                    "write the file again with its true rate");
    if (info.channels <= 0 || info.channels > most_channels)
        throw Error(ErrorCode::unsupported, name,
                    fmt::format("{} channels; 1 to {} are read", info.channels, most_channels),
                    "export only the starter's channels");
    refuse_absurd_rate(info.samplerate, static_cast<std::size_t>(info.channels), name,
                       "write the file again with its true rate");
}

Recording read_frames(SoundFile file, const SF_INFO& info, std::size_t file_bytes, const std::string& name,
                      const ReadOptions& options, std::size_t piece_frames) {
    check_info(info, name);
    Recording recording;
    recording.path = name;
    recording.format = container_name(info.format) + ", " + sample_name(info.format);
    recording.scaled_audio = true;
    recording.recorded_rate_hz = info.samplerate;
    const auto width = static_cast<std::size_t>(info.channels);
    for (std::size_t i = 0; i < width; ++i) {
        Channel channel;
        channel.name = "Channel " + std::to_string(i + 1);
        recording.channels.push_back(std::move(channel));
    }
    SampleStore store(width, reduction_factor(recording.recorded_rate_hz, options.keep_rate_hz),
                      options.most_values);
    std::vector<float> piece(piece_frames * width);
    std::size_t frames = 0;
    for (;;) {
        const sf_count_t got =
            sf_readf_float(file.get(), piece.data(), static_cast<sf_count_t>(piece_frames));
        if (got <= 0) break;
        frames += static_cast<std::size_t>(got);
        store.push_frames(std::span<const float>(piece).first(static_cast<std::size_t>(got) * width));
    }
    if (sf_error(file.get()) != SF_ERR_NO_ERROR)
        refuse_broken(name, frames, std::string("decoding stopped: ") + sf_strerror(file.get()));
    // A streamed FLAC does not say how long it is; libsndfile then gives the largest count.
    const bool length_known = info.frames > 0 && info.frames < SF_COUNT_MAX;
    if (length_known && frames < static_cast<std::size_t>(info.frames))
        refuse_broken(name, frames, fmt::format("the file ends here, but promises {} samples", info.frames));
    if (header_promises_more(file.get()))
        refuse_broken(name, frames, "the file ends here, but its header promises more");
    if (counts_too_few(info, frames, file_bytes)) {
        const std::string seen = fmt::format(
            "the header counts {} samples per channel, {} of the file's {} bytes", frames,
            frames * static_cast<std::size_t>(info.channels) * sample_bytes(info.format), file_bytes);
        if (frames == 0) throw Error(ErrorCode::malformed, name, seen, rewrite_remedy);
        recording.notices.push_back(
            {"header-counts-few", fmt::format("{}; only these were read: {}", seen, rewrite_remedy)});
    }
    refuse_too_short(frames, "frames", name);
    if (options.rate_hz)
        recording.notices.push_back(
            {"rate-ignored",
             fmt::format("the file gives its own rate: it was used ({} samples/s), not --rate",
                         info.samplerate)});
    finish_samples(store, recording, options);
    return recording;
}

[[noreturn]] void refuse_container(const std::string& name) {
    throw Error(ErrorCode::malformed, name, std::string("not a sound audio file: ") + sf_strerror(nullptr),
                "copy the file again, or write it as WAV or FLAC");
}

}  // namespace

bool is_audio(std::string_view first_bytes) {
    if (first_bytes.size() < 12) return false;
    const std::string_view four = first_bytes.substr(0, 4);
    const std::string_view kind = first_bytes.substr(8, 4);
    if (four == "RIFF" || four == "RIFX" || four == "RF64") return kind == "WAVE";
    if (four == "FORM") return kind == "AIFF" || kind == "AIFC";
    return four == "fLaC" || four == "caff" ||
           first_bytes.starts_with(std::string_view("riff\x2E\x91\xCF\x11", 8));
}

Recording read_audio(const FileBytes& file, const std::string& name, const ReadOptions& options,
                     std::size_t piece_frames) {
    const auto file_bytes =
        static_cast<std::size_t>(std::max<off_t>(0, ::lseek(file.descriptor(), 0, SEEK_END)));
    ::lseek(file.descriptor(), 0, SEEK_SET);
    SF_INFO info{};
    SoundFile sound(sf_open_fd(file.descriptor(), SFM_READ, &info, SF_FALSE));
    if (!sound) refuse_container(name);
    return read_frames(std::move(sound), info, file_bytes, name, options, piece_frames);
}

Recording read_audio_pipe(ByteSource& source, const std::string& name, const ReadOptions& options) {
    std::string bytes;
    while (bytes.size() <= most_piped_bytes) {
        const std::string piece = read_up_to(source, 1U << 20U);
        if (piece.empty()) break;
        bytes += piece;
    }
    if (bytes.size() > most_piped_bytes)
        throw Error(ErrorCode::unsupported, name, "more than 128 MiB of audio from a pipe",
                    "save it to a file and name the file");
    MemoryFile memory{bytes, 0};
    SF_VIRTUAL_IO io{memory_length, memory_seek, memory_read, memory_write, memory_tell};
    SF_INFO info{};
    SoundFile sound(sf_open_virtual(&io, SFM_READ, &info, &memory));
    if (!sound) refuse_container(name);
    return read_frames(std::move(sound), info, bytes.size(), name, options, audio_piece_frames);
}

}  // namespace evenstroke::reading
