// How often something repeats, and how strongly.
#pragma once

#include <complex>
#include <optional>
#include <span>
#include <vector>

namespace evenstroke::signal {

/// Complex amplitude of the component of `values` at `frequency_hz` over the whole span under a Hann window,
/// its mean removed: a cosine of amplitude A gives |result| = A once several periods fit.
[[nodiscard]] std::complex<double> component(std::span<const float> values, double rate_hz,
                                             double frequency_hz);

/// The lag in [shortest_s, longest_s] at which the signal is most like itself, and how like (correlation, at
/// most 1); empty when the span holds less than two such lags or the signal is constant.
struct Repeat {
    double period_s = 0;
    double correlation = 0;
};
[[nodiscard]] std::optional<Repeat> strongest_repeat(std::span<const float> values, double rate_hz,
                                                     double shortest_s, double longest_s);

}  // namespace evenstroke::signal
