#include "butterworth.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::signal {

namespace {

/// Sections from the prewarped cut-off, tan(pi cutoff / rate).
std::vector<Section> design(int order, double warped) {
    std::vector<Section> sections;
    for (int k = 0; k < order / 2; ++k) {
        // The analog pair s² + damping s + 1 of the prototype.
        const double damping = 2 * std::sin(pi * (2 * k + 1) / (2.0 * order));
        const double scale = 1 / (1 + damping * warped + warped * warped);
        const double b0 = warped * warped * scale;
        sections.push_back({.b0 = b0,
                            .b1 = 2 * b0,
                            .b2 = b0,
                            .a1 = 2 * (warped * warped - 1) * scale,
                            .a2 = (1 - damping * warped + warped * warped) * scale});
    }
    if (order % 2 == 1) {
        const double b0 = warped / (1 + warped);
        sections.push_back({.b0 = b0, .b1 = b0, .b2 = 0, .a1 = (warped - 1) / (warped + 1), .a2 = 0});
    }
    return sections;
}

double warp(double cutoff_hz, double rate_hz) {
    assert(cutoff_hz > 0 && cutoff_hz < rate_hz / 2);
    return std::tan(pi * cutoff_hz / rate_hz);
}

/// Runs every section over `values` in place, each at rest on the first value (transposed direct form II).
template <typename Iterator>
void run(std::span<const Section> sections, Iterator first, Iterator last) {
    if (first == last) return;
    using Value = typename std::iterator_traits<Iterator>::value_type;
    for (const Section& s : sections) {
        const auto start = static_cast<double>(*first);
        double state1 = (1 - s.b0) * start;  // what a long run of `start` would have left behind
        double state2 = (s.b2 - s.a2) * start;
        for (Iterator at = first; at != last; ++at) {
            const auto x = static_cast<double>(*at);
            const double y = s.b0 * x + state1;
            state1 = s.b1 * x - s.a1 * y + state2;
            state2 = s.b2 * x - s.a2 * y;
            *at = static_cast<Value>(y);
        }
    }
}

std::size_t padding(std::span<const Section> sections, std::size_t samples) {
    const auto first_order = static_cast<std::size_t>(std::count_if(
        sections.begin(), sections.end(), [](const Section& s) { return s.b2 == 0 && s.a2 == 0; }));
    return std::min(3 * (2 * sections.size() + 1 - first_order), samples - 1);
}

/// Adds `pad` values at either end, reflected in the end point; then filters both ways and cuts them off.
template <typename Value>
void two_way(std::span<const Section> sections, std::vector<Value>& values) {
    if (values.empty()) return;
    const std::size_t samples = values.size();
    const std::size_t pad = padding(sections, samples);
    std::vector<Value> padded(samples + 2 * pad);
    for (std::size_t i = 0; i < pad; ++i) {
        padded[i] = 2 * values.front() - values[pad - i];
        padded[pad + samples + i] = 2 * values.back() - values[samples - 2 - i];
    }
    const auto inner = padded.begin() + static_cast<std::ptrdiff_t>(pad);
    std::copy(values.begin(), values.end(), inner);
    run(sections, padded.begin(), padded.end());
    run(sections, padded.rbegin(), padded.rend());
    std::copy(inner, inner + static_cast<std::ptrdiff_t>(samples), values.begin());
}

}  // namespace

std::vector<Section> butterworth_low_pass(int order, double cutoff_hz, double rate_hz) {
    assert(order >= 1);
    return design(order, warp(cutoff_hz, rate_hz));
}

std::vector<Section> butterworth_low_pass_two_way(int order, double cutoff_hz, double rate_hz) {
    assert(order >= 1);
    return design(order, warp(cutoff_hz, rate_hz) / std::pow(std::sqrt(2.0) - 1, 1.0 / (2 * order)));
}

std::vector<double> filter(std::span<const Section> sections, std::span<const double> values) {
    std::vector<double> result(values.begin(), values.end());
    run(sections, result.begin(), result.end());
    return result;
}

std::vector<double> filter_two_way(std::span<const Section> sections, std::span<const double> values) {
    std::vector<double> result(values.begin(), values.end());
    two_way(sections, result);
    return result;
}

void filter_two_way(std::span<const Section> sections, std::vector<float>& values) {
    two_way(sections, values);
}

}  // namespace evenstroke::signal
