// Samples on their way into memory: gaps bridged, over-range held, reduced in rate, bounded in number.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "evenstroke/recording.hpp"
#include "read/decimator.hpp"

namespace evenstroke::reading {

/// One channel. Samples come in as numbers, NaN (a gap), infinities or over_range_unsigned.
class ChannelSamples {
  public:
    explicit ChannelSamples(int factor);
    void push(std::span<const float> samples);
    void push(float sample) { push(std::span(&sample, 1)); }
    /// Halves the rate of what is held and of what will come.
    void halve();
    /// Nothing follows. `factor` is the total reduction.
    void finish(std::size_t factor);

    [[nodiscard]] bool empty() const { return !any_number_; }  ///< no number was ever seen
    std::vector<float> values;
    std::vector<Span> gaps;
    std::vector<Span> clipped;

  private:
    void special(float sample);
    void resolve_pending(float value);
    void emit(float value);
    void flush();

    std::vector<Decimator> stages_;
    std::vector<float> block_;  ///< repaired samples, not yet through the stages
    std::size_t count_ = 0;     ///< samples pushed
    std::size_t pending_ = 0;   ///< samples waiting for the next number
    bool any_number_ = false;
    float last_ = 0;
    float lowest_ = 0;
    float highest_ = 0;
};

/// All channels of a recording, sample by sample in step.
class SampleStore {
  public:
    /// `factor`: reduction from the start; `most_values`: over all channels.
    SampleStore(std::size_t channels, int factor, std::size_t most_values);
    /// One sample of every channel.
    void push_row(std::span<const float> row);
    /// Frames of interleaved samples.
    void push_frames(std::span<const float> interleaved);
    void finish();

    [[nodiscard]] std::size_t samples() const { return samples_; }  ///< pushed so far
    [[nodiscard]] std::size_t factor() const { return factor_; }    ///< total reduction
    [[nodiscard]] bool bounded() const { return halvings_ > 0; }    ///< reduced further for most_values
    std::vector<ChannelSamples> channels;

  private:
    void halve_when_full();

    std::size_t factor_;
    std::size_t most_values_;
    std::size_t samples_ = 0;
    int halvings_ = 0;
    std::vector<float> column_;
};

/// The whole factor by which `rate_hz` is reduced to no less than `keep_rate_hz`; at least 1.
[[nodiscard]] int reduction_factor(double rate_hz, double keep_rate_hz);

}  // namespace evenstroke::reading
