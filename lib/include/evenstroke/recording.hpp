// A recording as it was read: named channels on one uniform time base, or edges with times of their own.
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include "evenstroke/error.hpp"

namespace evenstroke {

/// The sample at `when_s`, or the last before it, of `count` samples from `start_s` on; 0 before the first,
/// `count` beyond the last.
[[nodiscard]] inline std::size_t sample_at(double when_s, double start_s, double rate_hz, std::size_t count) {
    return static_cast<std::size_t>(
        std::clamp((when_s - start_s) * rate_hz, 0.0, static_cast<double>(count)));
}

/// A half-open run of samples [first, last).
struct Span {
    std::size_t first = 0;
    std::size_t last = 0;
};

/// One transition of a two-level channel.
struct Edge {
    double time_s = 0;  ///< on the recording's time axis
    bool rising = false;
};

/// One column of the recording. A sampled channel has `values`; an edge list has `edges`; never both.
struct Channel {
    std::string name;           ///< as written, or "Channel N" (counted from 1) when the file names none
    std::string unit;           ///< as written; empty when the file does not say
    std::vector<float> values;  ///< finite always: gaps are bridged linearly, over-range holds the last rail
    std::vector<Span> gaps;  ///< runs of samples that the file left empty, ascending, in samples of `values`
    std::vector<Span> clipped;  ///< runs the file marked as over-range (infinity signs or words), ascending
    std::vector<Edge> edges;    ///< ascending in time; the level alternates
};

/// Everything one file holds. All sampled channels have the same length and share the time base
/// t(i) = start_s + i / rate_hz.
struct Recording {
    std::string path;             ///< as given, "-" for standard input
    std::string format;           ///< in words: "text, semicolon, decimal comma", "FLAC, 16 bit"
    double rate_hz = 0;           ///< of `values` as kept; 0 only for an edge list, which has no rate
    double recorded_rate_hz = 0;  ///< as written in the file, before reduction; 0 for an edge list
    double start_s = 0;           ///< time of the first sample; negative before a trigger
    double duration_s = 0;        ///< from the first to the last sample or edge
    bool scaled_audio = false;    ///< true: values are fractions of full scale, --scale gives the full scale
    std::vector<Channel> channels;
    std::vector<std::string> empty_channels;  ///< names of those left out because no cell holds a number
    std::vector<Notice> notices;
};

/// The index of the channel called `wanted`: its name (case-insensitive) or its number counted from 1.
/// Throws Error{no_such_channel} that lists the channels there are, Error{unusable} for one that holds no
/// number.
[[nodiscard]] std::size_t find_channel(const Recording& recording, const std::string& wanted);

}  // namespace evenstroke
