#include "read/decimator.hpp"

#include <algorithm>
#include <boost/math/special_functions/bessel.hpp>
#include <cassert>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>

namespace evenstroke::reading {

namespace {

/// A two-level stretch that changes more often than this within the filter's window (50 output samples) is
/// converter noise between two codes: there the mean matters, not the edges.
constexpr std::size_t most_changes = 8;
constexpr std::size_t buffered_inputs = 4096;

/// Channels of one file share their coefficients; a process reads few different rates.
std::shared_ptr<const std::vector<double>> shared_low_pass(int factor) {
    static std::mutex guard;
    static std::map<int, std::weak_ptr<const std::vector<double>>> known;
    const std::lock_guard lock(guard);
    auto taps = known[factor].lock();
    if (!taps) known[factor] = taps = std::make_shared<const std::vector<double>>(low_pass(factor));
    return taps;
}

/// Four sums side by side, in one fixed order: vectorised, and the same for every piece size.
double dot(const double* a, const double* b, std::size_t count) {
    double sum[4] = {0, 0, 0, 0};
    std::size_t i = 0;
    for (; i + 4 <= count; i += 4)
        for (std::size_t lane = 0; lane < 4; ++lane) sum[lane] += a[i + lane] * b[i + lane];
    for (; i < count; ++i) sum[0] += a[i] * b[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

}  // namespace

std::vector<double> low_pass(int factor) {
    assert(factor >= 2);
    // In cycles per input sample; the stop band begins at the kept half-rate.
    const double stop = 0.5 / factor;
    const double pass = pass_band_ratio * stop;
    const double beta = 0.1102 * (stop_band_db - 8.7);  // Kaiser's fit for more than 50 dB
    const double needed = (stop_band_db - 7.95) / (14.36 * (stop - pass));
    const auto reach = static_cast<std::size_t>(std::ceil(needed / 2));
    const double cut_off = (pass + stop) / 2;
    std::vector<double> taps(2 * reach + 1);
    for (std::size_t i = 0; i < taps.size(); ++i) {
        const double offset = static_cast<double>(i) - static_cast<double>(reach);
        const double share = offset / static_cast<double>(reach);
        const double window =
            boost::math::cyl_bessel_i(0, beta * std::sqrt(std::max(0.0, 1 - share * share))) /
            boost::math::cyl_bessel_i(0, beta);
        const double angle = 2 * std::numbers::pi * cut_off * offset;
        taps[i] = window * 2 * cut_off * (offset == 0 ? 1 : std::sin(angle) / angle);
    }
    double sum = 0;
    for (const double tap : taps) sum += tap;
    for (double& tap : taps) tap /= sum;
    return taps;
}

Decimator::Decimator(int factor)
    : factor_(static_cast<std::size_t>(factor)), taps_(shared_low_pass(factor)), reach_(taps_->size() / 2) {}

void Decimator::append(float value) {
    if (inputs_ == 0) window_.assign(reach_, static_cast<double>(value));
    window_.push_back(static_cast<double>(value));
    if (!third_level_at_ && !levels_.take(value)) third_level_at_ = inputs_;
    ++inputs_;
}

void Decimator::drain(std::vector<float>& out) {
    for (; window_.size() - std::min(at_, window_.size()) >= taps_->size(); at_ += factor_, ++outputs_)
        out.push_back(two_levels_or_filtered());
    if (at_ >= buffered_inputs + taps_->size()) {
        const std::size_t drop = std::min(at_, window_.size());
        window_.erase(window_.begin(), window_.begin() + static_cast<std::ptrdiff_t>(drop));
        at_ -= drop;
    }
}

float Decimator::filtered() const {
    return static_cast<float>(dot(window_.data() + at_, taps_->data(), taps_->size()));
}

float Decimator::two_levels_or_filtered() const {
    const std::size_t centre = outputs_ * factor_;
    if (third_level_at_ && *third_level_at_ <= centre + reach_) return filtered();
    const double* window = window_.data() + at_;
    std::size_t changes = 0;
    for (std::size_t i = 1; i < taps_->size(); ++i) changes += window[i] != window[i - 1] ? 1 : 0;
    if (changes > most_changes) return filtered();
    const double here = window[reach_];
    const std::size_t since = std::min(factor_, reach_);
    if (changes < 2 || window[reach_ - since] != here) return static_cast<float>(here);
    for (std::size_t i = reach_ - since; i < reach_; ++i)  // came and went between two output samples?
        if (window[i] != here) return static_cast<float>(window[i]);
    return static_cast<float>(here);
}

void Decimator::push(std::span<const float> in, std::vector<float>& out) {
    while (!in.empty()) {
        const auto piece = in.first(std::min(in.size(), buffered_inputs));
        for (const float value : piece) append(value);
        drain(out);
        in = in.subspan(piece.size());
    }
}

void Decimator::finish(std::vector<float>& out) {
    if (inputs_ == 0) return;
    const std::size_t wanted = (inputs_ + factor_ - 1) / factor_;
    const double last = window_.back();
    while (outputs_ < wanted) {
        window_.insert(window_.end(), std::min(buffered_inputs, reach_), last);
        std::vector<float> more;
        drain(more);
        const std::size_t surplus = outputs_ > wanted ? outputs_ - wanted : 0;
        out.insert(out.end(), more.begin(), more.end() - static_cast<std::ptrdiff_t>(surplus));
    }
}

}  // namespace evenstroke::reading
