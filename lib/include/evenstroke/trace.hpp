// The one channel that the analysis works on: chosen, scaled, upright and zeroed, with what was found wrong.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "evenstroke/recording.hpp"

namespace evenstroke {

/// What a channel measures. `sync` is a once-a-cycle mark, `steady` never moves, `unknown` is anything else.
enum class Quantity { current, voltage, wheel, pressure, sync, steady, unknown };

[[nodiscard]] const char* name(Quantity quantity);

/// What one channel looks like, for `inspect` and for the choice.
struct ChannelLook {
    Quantity quantity = Quantity::unknown;
    double confidence_ratio = 0;  ///< 0 to 1, for ranking only
    std::string reason;           ///< in words: "jumps from 0 to 560 A and settles near 180 A with a ripple"
    double lowest = 0;            ///< in recorded units
    double highest = 0;
    double mean = 0;
    std::size_t edges = 0;   ///< level changes, for wheels and syncs
    bool inrush = false;     ///< jumps from rest and settles at a part of that, as a starter's current does
    bool zero_lost = false;  ///< a current or voltage without its zero, as an AC-coupled input leaves it
};

/// Looks at every channel; same order and length as recording.channels.
[[nodiscard]] std::vector<ChannelLook> look(const Recording& recording);

/// What the user said about the channel.
struct TraceOptions {
    std::optional<std::string> channel;  ///< name or number
    std::optional<Quantity> quantity;    ///< current, voltage or wheel
    std::optional<double> scale;         ///< units (A, V) per recorded unit; full scale for audio
    std::optional<std::string> sync;     ///< name or number of the sync; no load is looked for in it
};

/// The chosen channel. Sampled: t(i) = start_s + i / rate_hz.
struct Trace {
    std::string channel;
    std::string why;  ///< why this channel: "named by the user", or what it looks like
    Quantity quantity = Quantity::unknown;
    std::string unit;  ///< "A", "V", "edges"; the recorded unit when nothing tells how it scales
    double rate_hz = 0;
    double start_s = 0;
    std::optional<double> end_s;  ///< of the recording, where it is known to go on after the last edge
    std::vector<float>
        values;  ///< upright (cranking current positive), zero before the inrush, spikes and hum removed
    std::vector<Edge> edges;               ///< of a wheel, instead of values
    std::vector<Span> gaps;                ///< samples that were bridged
    std::vector<Span> clipped;             ///< samples at or beyond a rail
    std::optional<std::string> zero_lost;  ///< why the load's zero cannot be known, and with it no verdict
    std::vector<Notice>
        notices;  ///< "reversed", "offset", "drift", "clipped", "hum", "spikes", "rate-too-low", …

    [[nodiscard]] double time_s(std::size_t sample) const {
        return start_s + static_cast<double>(sample) / rate_hz;
    }
    /// The sample at `when_s` or the last before it; 0 before the first, values.size() beyond the last.
    [[nodiscard]] std::size_t sample_at(double when_s) const {
        return evenstroke::sample_at(when_s, start_s, rate_hz, values.size());
    }
};

/// Chooses and cleans the channel. Throws Error{no_such_channel}, or Error{unusable} when nothing looks like
/// cranking.
[[nodiscard]] Trace pick(const Recording& recording, const TraceOptions& options = {});

}  // namespace evenstroke
