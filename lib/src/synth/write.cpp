// Synth's recordings as files: text in one of the dialects that people export, or audio.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/synth.hpp"
#include "read/audio_write.hpp"

namespace evenstroke {

namespace {

/// A header cell: the name with its unit in brackets, unless units have a row of their own.
std::string head(const std::string& name, const std::string& unit, bool units_row) {
    return units_row || unit.empty() ? name : name + " (" + unit + ")";
}

void put_number(std::string& out, std::string number, const TextDialect& dialect) {
    if (dialect.decimal_comma) std::replace(number.begin(), number.end(), '.', ',');
    out += number;
}

void put_time(std::string& out, double time_s, int decimals, const TextDialect& dialect) {
    const double shown = dialect.milliseconds ? time_s * 1000 : time_s;
    put_number(out,
               fmt::format("{:.{}f}", shown, dialect.milliseconds ? std::max(decimals - 3, 0) : decimals),
               dialect);
}

std::string header(const Recording& recording, const TextDialect& dialect) {
    std::string out;
    for (const std::string& line : dialect.preamble) out += line + "\n";
    const char* time_unit = dialect.milliseconds ? "ms" : "s";
    out += head("Time", time_unit, dialect.units_row);
    for (const Channel& channel : recording.channels)
        out += dialect.separator + head(channel.name, channel.unit, dialect.units_row);
    out += "\n";
    if (!dialect.units_row) return out;
    out += fmt::format("({})", time_unit);
    for (const Channel& channel : recording.channels)
        out += dialect.separator + (channel.unit.empty() ? std::string() : fmt::format("({})", channel.unit));
    return out + "\n";
}

/// One row a transition, with the levels of all channels from then on.
void put_transitions(std::string& out, const Recording& recording, const TextDialect& dialect) {
    constexpr int microseconds = 6;
    struct Change {
        double time_s;
        std::size_t channel;
        bool level;
    };
    std::vector<Change> changes;
    std::vector<int> level(recording.channels.size(), 0);
    for (std::size_t c = 0; c < recording.channels.size(); ++c) {
        const auto& edges = recording.channels[c].edges;
        if (!edges.empty()) level[c] = edges.front().rising ? 0 : 1;
        for (const Edge& edge : edges) changes.push_back({edge.time_s, c, edge.rising});
    }
    std::stable_sort(changes.begin(), changes.end(),
                     [](const Change& a, const Change& b) { return a.time_s < b.time_s; });
    const auto put_row = [&](double time_s) {
        put_time(out, time_s, microseconds, dialect);
        for (const int value : level) out += fmt::format("{}{}", dialect.separator, value);
        out += "\n";
    };
    // A list's first row tells the levels that it begins with.
    if (!changes.empty() && recording.start_s < changes.front().time_s) put_row(recording.start_s);
    for (const Change& change : changes) {
        level[change.channel] = change.level ? 1 : 0;
        put_row(change.time_s);
    }
}

void put_samples(std::string& out, const Recording& recording, const TextDialect& dialect) {
    const std::size_t samples = recording.channels.empty() ? 0 : recording.channels.front().values.size();
    // Two digits more than the period needs keep the rate exact to a hundredth of a sample.
    const int decimals = static_cast<int>(std::ceil(std::log10(recording.rate_hz))) + 1;
    for (std::size_t i = 0; i < samples; ++i) {
        put_time(out, recording.start_s + static_cast<double>(i) / recording.rate_hz, decimals, dialect);
        for (const Channel& channel : recording.channels) {
            out += dialect.separator;
            put_number(out, fmt::format("{:.{}g}", channel.values[i], dialect.digits), dialect);
        }
        out += "\n";
    }
}

}  // namespace

std::string recording_text(const Recording& recording, const TextDialect& dialect) {
    std::string out = header(recording, dialect);
    const bool edges = !recording.channels.empty() && recording.channels.front().values.empty();
    if (edges)
        put_transitions(out, recording, dialect);
    else
        put_samples(out, recording, dialect);
    return out;
}

std::string recording_audio(const Recording& recording, const std::vector<double>& full_scale,
                            AudioFormat format, const std::string& name) {
    if (recording.channels.empty() || recording.channels.front().values.empty())
        throw Error(ErrorCode::unsupported, name, "edges cannot be written as audio",
                    "write them as text, or record the wheel as an analog voltage");
    const std::size_t channels = recording.channels.size();
    const std::size_t samples = recording.channels.front().values.size();
    std::vector<float> frames(channels * samples);
    for (std::size_t c = 0; c < channels; ++c)
        for (std::size_t i = 0; i < samples; ++i) {
            const double share = static_cast<double>(recording.channels[c].values[i]) / full_scale.at(c);
            frames[i * channels + c] = static_cast<float>(std::clamp(share, -1.0, 1.0));
        }
    return audio_file_bytes(frames, static_cast<int>(channels),
                            static_cast<int>(std::lround(recording.rate_hz)), format == AudioFormat::flac,
                            name);
}

}  // namespace evenstroke
