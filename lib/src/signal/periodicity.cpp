#include "periodicity.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "fft.hpp"
#include "peak.hpp"

namespace evenstroke::signal {

std::complex<double> component(std::span<const float> values, double rate_hz, double frequency_hz) {
    const auto count = static_cast<double>(values.size());
    if (values.size() < 2) return 0;
    const auto hann = [count](std::size_t i) {
        return 0.5 - 0.5 * std::cos(2 * std::numbers::pi * (static_cast<double>(i) + 0.5) / count);
    };
    double weights = 0;
    double weighted = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        weights += hann(i);
        weighted += hann(i) * static_cast<double>(values[i]);
    }
    const double mean = weighted / weights;
    const std::complex<double> step = std::polar(1.0, -2 * std::numbers::pi * frequency_hz / rate_hz);
    std::complex<double> turn = 1;
    std::complex<double> sum = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        sum += hann(i) * (static_cast<double>(values[i]) - mean) * turn;
        turn *= step;
    }
    return 2.0 * sum / weights;
}

std::optional<Repeat> strongest_repeat(std::span<const float> values, double rate_hz, double shortest_s,
                                       double longest_s) {
    const std::vector<float> lags = autocorrelation(values);
    const auto first = static_cast<std::size_t>(std::max(1.0, shortest_s * rate_hz));
    // Beyond half the span too few samples overlap for the correlation to mean anything.
    const std::size_t last = std::min(static_cast<std::size_t>(longest_s * rate_hz), lags.size() / 2);
    if (lags.empty() || first + 2 >= last) return std::nullopt;
    std::size_t best = 0;
    for (std::size_t lag = first + 1; lag + 1 < last; ++lag) {
        const bool peak = lags[lag] >= lags[lag - 1] && lags[lag] > lags[lag + 1];
        if (peak && (best == 0 || lags[lag] > lags[best])) best = lag;
    }
    if (best == 0) return std::nullopt;
    const double top = static_cast<double>(lags[best]);
    const double offset = parabolic_peak(std::span<const float>(lags), best).offset;
    return Repeat{.period_s = (static_cast<double>(best) + offset) / rate_hz, .correlation = top};
}

}  // namespace evenstroke::signal
