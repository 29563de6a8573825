#include <doctest/doctest.h>
#include <sndfile.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "evenstroke/read.hpp"
#include "evenstroke/synth.hpp"
#include "read/audio.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

/// A file of its own that goes with the test.
struct Scratch {
    std::filesystem::path path;
    explicit Scratch(const std::string& name)
        : path(std::filesystem::temp_directory_path() / ("evenstroke-read-test-" + name)) {}
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    ~Scratch() {
        std::error_code ignored;
        std::filesystem::remove(path, ignored);
    }
};

float wave(int frame, int channel) {
    return 0.5F * std::sin(0.01F * static_cast<float>(frame * (channel + 1)));
}

void write_audio(const std::filesystem::path& path, int format, int rate_hz, int frames, int channels = 2) {
    SF_INFO info{};
    info.format = format;
    info.samplerate = rate_hz;
    info.channels = channels;
    SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
    REQUIRE(file != nullptr);
    std::vector<float> samples;
    for (int i = 0; i < frames; ++i)
        for (int c = 0; c < channels; ++c) samples.push_back(wave(i, c));
    REQUIRE(sf_writef_float(file, samples.data(), frames) == frames);
    sf_close(file);
}

void cut(const std::filesystem::path& path, double share) {
    const auto size = static_cast<double>(std::filesystem::file_size(path));
    std::filesystem::resize_file(path, static_cast<std::uintmax_t>(size * share));
}

}  // namespace

TEST_CASE("read: every audio container -> fractions of full scale, two channels") {
    const struct {
        const char* name;
        int format;
        double step;  // of the sample format
    } kinds[] = {{"a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1.0 / 32768},
                 {"b.w64", SF_FORMAT_W64 | SF_FORMAT_FLOAT, 1e-7},
                 {"c.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 1.0 / 8388608},
                 {"d.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 1.0 / 32768},
                 {"e.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 1.0 / 32768},
                 {"f.caf", SF_FORMAT_CAF | SF_FORMAT_PCM_16, 1.0 / 32768}};
    for (const auto& kind : kinds) {
        CAPTURE(std::string(kind.name));
        const Scratch scratch(kind.name);
        write_audio(scratch.path, kind.format, 10000, 40000);
        const Recording r = read(scratch.path.string());
        CHECK(r.scaled_audio);
        CHECK(r.rate_hz == 10000);
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[1].name == "Channel 2");
        REQUIRE(r.channels[0].values.size() == 40000);
        for (int i = 0; i < 40000; i += 111)
            for (int c = 0; c < 2; ++c)
                CHECK(std::abs(r.channels[static_cast<std::size_t>(c)].values[static_cast<std::size_t>(i)] -
                               wave(i, c)) <= kind.step);
    }
}

TEST_CASE("read: a file cut short -> refused with the sample at which it breaks") {
    const struct {
        const char* name;
        int format;
    } kinds[] = {
        {"cut.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16}, {"cut.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16},
        {"cut.w64", SF_FORMAT_W64 | SF_FORMAT_PCM_16},   {"cut.rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_16},
        {"cut.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16}, {"cut.caf", SF_FORMAT_CAF | SF_FORMAT_PCM_16}};
    for (const auto& kind : kinds) {
        CAPTURE(std::string(kind.name));
        const Scratch scratch(kind.name);
        write_audio(scratch.path, kind.format, 10000, 60000);
        cut(scratch.path, 0.6);
        try {
            (void)read(scratch.path.string());
            FAIL_CHECK("read as if it were whole");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::malformed);
            // libsndfile does not open a CAF file whose data chunk is cut: there is no sample to name.
            if (kind.format != (SF_FORMAT_CAF | SF_FORMAT_PCM_16))
                CHECK(error.place().find("sample") != std::string::npos);
            CHECK_FALSE(error.remedy().empty());
        }
    }
}

TEST_CASE("read: a header that counts none or half of the samples behind it -> refused, or said") {
    const Scratch file("recorder-died.wav");
    write_audio(file.path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, 2000, 1000);
    const auto write_length = [&](std::uint32_t bytes) {
        std::fstream stream(file.path, std::ios::in | std::ios::out | std::ios::binary);
        std::string all((std::istreambuf_iterator<char>(stream)), std::istreambuf_iterator<char>());
        const auto at = static_cast<std::streamoff>(all.find("data") + 4);
        stream.seekp(at);
        for (int i = 0; i < 4; ++i) stream.put(static_cast<char>(bytes >> (8 * i)));
    };
    CHECK(read(file.path.string()).notices.empty());
    write_length(2000);  // 500 frames of two channels
    const Recording half = read(file.path.string());
    CHECK(half.channels[0].values.size() == 500);
    CHECK(has_notice(half.notices, "header-counts-few"));
    write_length(0);
    CHECK_THROWS_WITH_AS((void)read(file.path.string()), doctest::Contains("the header counts 0 samples"),
                         Error);
}

TEST_CASE("read: pieces of any size -> the same samples") {
    const Scratch scratch("pieces.wav");
    write_audio(scratch.path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, 192000, 200000);
    const std::string name = scratch.path.string();
    const ReadOptions options{.rate_hz = {}, .keep_rate_hz = 25'000, .most_values = 20'000};
    const Recording whole = read(name, options);
    CHECK(whole.recorded_rate_hz == 192000);
    CHECK(whole.rate_hz < 25'000);
    for (const std::size_t piece : {std::size_t{1}, std::size_t{333}, std::size_t{1'000'000}}) {
        const reading::FileBytes file(name);
        const Recording r = reading::read_audio(file, name, options, piece);
        CHECK(r.rate_hz == whole.rate_hz);
        CHECK(r.channels[0].values == whole.channels[0].values);
        CHECK(r.channels[1].values == whole.channels[1].values);
    }
}

TEST_CASE("read: audio through a pipe -> as from the file") {
    const Scratch scratch("pipe.flac");
    write_audio(scratch.path, SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 10000, 30000);
    reading::FileBytes source(scratch.path.string());
    const Recording piped = reading::read_audio_pipe(source, "-", {});
    CHECK(piped.channels[0].values == read(scratch.path.string()).channels[0].values);
}

TEST_CASE("read: audio that cannot be written -> refused with the file's name") {
    const auto place = [](const Recording& recording, AudioFormat format) -> std::string {
        try {
            (void)recording_audio(recording, std::vector<double>(recording.channels.size(), 1), format,
                                  "out/wheel.flac");
        } catch (const Error& error) {
            return error.place();
        }
        return "written";
    };
    Recording edges;
    edges.channels.resize(1);
    CHECK(place(edges, AudioFormat::wav) == "out/wheel.flac");
    Recording fast;  // FLAC holds 655 kHz at most
    fast.rate_hz = 1e6;
    fast.channels.resize(1);
    fast.channels[0].values = {0, 1};
    CHECK(place(fast, AudioFormat::flac) == "out/wheel.flac");
    CHECK(place(fast, AudioFormat::wav) == "written");
}

TEST_CASE("read: what is no recording -> refused with what to do") {
    CHECK_THROWS_WITH_AS((void)read("/nonexistent/file.csv"), "there is no such file", Error);
    CHECK_THROWS_WITH_AS((void)read(std::filesystem::temp_directory_path().string()),
                         "this is a folder, not a recording", Error);
    const Scratch scratch("packed.csv");
    std::ofstream(scratch.path) << "PK\x03\x04 something packed in here";
    CHECK_THROWS_AS((void)read(scratch.path.string()), Error);
    const Scratch sheet("sheet.xls");
    std::ofstream(sheet.path) << std::string("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1") + std::string(24, '\0');
    CHECK_THROWS_WITH_AS((void)read(sheet.path.string()),
                         "this is a packed file or a spreadsheet, not text or audio", Error);
    const Scratch broken("broken.wav");
    std::ofstream(broken.path) << "RIFF....WAVE then nothing of use";
    CHECK_THROWS_AS((void)read(broken.path.string()), Error);
    const Scratch empty("empty.flac");
    std::ofstream(empty.path).flush();
    CHECK_THROWS_WITH_AS((void)read(empty.path.string()), "the file is empty", Error);
}
