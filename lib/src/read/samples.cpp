#include "read/samples.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "read/cells.hpp"

namespace evenstroke::reading {

namespace {

constexpr std::size_t block_samples = 4096;
/// Beyond so many runs a new one is joined to the last: a file of holes must not outgrow memory.
constexpr std::size_t most_spans = 200'000;
/// Fewer samples of a channel than this are never halved again.
constexpr std::size_t least_kept_samples = 1024;

void mark(std::vector<Span>& spans, std::size_t sample) {
    if (!spans.empty() && (spans.back().last == sample || spans.size() >= most_spans))
        spans.back().last = sample + 1;
    else
        spans.push_back({sample, sample + 1});
}

/// Spans in input samples to spans in kept samples: every kept sample whose stretch they touch.
void rescale(std::vector<Span>& spans, std::size_t factor, std::size_t kept) {
    if (factor == 1) return;
    std::vector<Span> scaled;
    for (const Span& span : spans) {
        const std::size_t first = std::min(span.first / factor, kept - 1);
        const std::size_t last = std::min((span.last + factor - 1) / factor + 1, kept);
        if (!scaled.empty() && scaled.back().last >= first)
            scaled.back().last = std::max(scaled.back().last, last);
        else
            scaled.push_back({first, last});
    }
    spans = std::move(scaled);
}

}  // namespace

ChannelSamples::ChannelSamples(int factor) {
    block_.reserve(block_samples);
    if (factor > 1) stages_.emplace_back(factor);
}

void ChannelSamples::emit(float value) {
    block_.push_back(value);
    if (block_.size() >= block_samples) flush();
}

void ChannelSamples::flush() {
    if (stages_.empty()) {
        values.insert(values.end(), block_.begin(), block_.end());
        block_.clear();
        return;
    }
    std::vector<float> in = std::move(block_);
    std::vector<float> out;
    for (std::size_t i = 0; i + 1 < stages_.size(); ++i) {
        stages_[i].push(in, out);
        in.swap(out);
        out.clear();
    }
    stages_.back().push(in, values);
    in.clear();
    block_ = std::move(in);
}

void ChannelSamples::push(std::span<const float> samples) {
    for (const float sample : samples) {
        if (!is_number(sample)) {
            special(sample);
            continue;
        }
        if (!any_number_) lowest_ = highest_ = last_ = sample;
        any_number_ = true;
        if (pending_ > 0) resolve_pending(sample);
        lowest_ = std::min(lowest_, sample);
        highest_ = std::max(highest_, sample);
        last_ = sample;
        emit(sample);
        ++count_;
    }
}

void ChannelSamples::special(float sample) {
    const bool gap = std::isnan(sample);
    mark(gap ? gaps : clipped, count_);
    ++count_;
    if (gap || !any_number_) {
        ++pending_;
        return;
    }
    const bool high = sample == over_range_unsigned ? highest_ - last_ <= last_ - lowest_ : sample > 0;
    const float rail = high ? highest_ : lowest_;
    if (pending_ > 0) resolve_pending(rail);
    last_ = rail;
    emit(rail);
}

/// Bridges the waiting samples from the last number to `value`; before the first number, holds it.
void ChannelSamples::resolve_pending(float value) {
    const auto from = static_cast<double>(last_);
    const double step = (static_cast<double>(value) - from) / static_cast<double>(pending_ + 1);
    const std::size_t waiting = std::exchange(pending_, 0);
    for (std::size_t i = 1; i <= waiting; ++i) emit(static_cast<float>(from + step * static_cast<double>(i)));
}

void ChannelSamples::halve() {
    Decimator half(2);
    std::vector<float> kept;
    kept.reserve(values.size() / 2 + 1);
    half.push(values, kept);
    values = std::move(kept);
    stages_.push_back(std::move(half));
}

void ChannelSamples::finish(std::size_t factor) {
    if (pending_ > 0) resolve_pending(last_);
    flush();
    for (std::size_t i = 0; i < stages_.size(); ++i) {
        std::vector<float> rest;
        stages_[i].finish(rest);
        for (std::size_t next = i + 1; next < stages_.size(); ++next) {
            std::vector<float> out;
            stages_[next].push(rest, out);
            rest.swap(out);
        }
        values.insert(values.end(), rest.begin(), rest.end());
    }
    stages_.clear();
    if (values.empty()) return;
    rescale(gaps, factor, values.size());
    rescale(clipped, factor, values.size());
}

SampleStore::SampleStore(std::size_t channel_count, int factor, std::size_t most_values)
    : factor_(static_cast<std::size_t>(factor)), most_values_(most_values) {
    channels.reserve(channel_count);
    for (std::size_t i = 0; i < channel_count; ++i) channels.emplace_back(factor);
}

void SampleStore::halve_when_full() {
    const auto full = [this] {
        const std::size_t kept = samples_ / factor_;
        return kept >= least_kept_samples && kept * channels.size() > most_values_;
    };
    while (full()) {
        for (ChannelSamples& channel : channels) channel.halve();
        factor_ *= 2;
        ++halvings_;
    }
}

void SampleStore::push_row(std::span<const float> row) {
    for (std::size_t i = 0; i < channels.size(); ++i) channels[i].push(row.subspan(i, 1));
    ++samples_;
    halve_when_full();
}

void SampleStore::push_frames(std::span<const float> interleaved) {
    const std::size_t width = channels.size();
    // In blocks small enough that the bound is looked at often; halving does not depend on where they end,
    // since a stage added later is fed all that is held.
    for (std::size_t done = 0; done < interleaved.size();) {
        const std::size_t frames = std::min(block_samples, (interleaved.size() - done) / width);
        column_.resize(frames);
        for (std::size_t i = 0; i < width; ++i) {
            for (std::size_t frame = 0; frame < frames; ++frame)
                column_[frame] = interleaved[done + frame * width + i];
            channels[i].push(column_);
        }
        samples_ += frames;
        done += frames * width;
        halve_when_full();
    }
}

void SampleStore::finish() {
    for (ChannelSamples& channel : channels) channel.finish(factor_);
}

int reduction_factor(double rate_hz, double keep_rate_hz) {
    const double ratio = rate_hz / keep_rate_hz;
    if (!(ratio >= 2)) return 1;
    // A rate worked out from printed times may lie a hair below the true one.
    constexpr double rounding = 1e-6;
    return static_cast<int>(std::min(std::floor(ratio * (1 + rounding)), 1e6));
}

}  // namespace evenstroke::reading
