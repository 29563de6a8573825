// The one home of KissFFT: spectra of real signals.
#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

namespace evenstroke::signal {

/// The next length >= `samples` that the transform takes fast (even, factors 2, 3, 5).
[[nodiscard]] std::size_t fast_length(std::size_t samples);

/// Spectrum of `values` zero-padded to `length` (even, >= values.size()): length/2 + 1 bins, bin k at k *
/// rate / length. Single precision: remove the mean first when small ripples matter.
[[nodiscard]] std::vector<std::complex<float>> spectrum(std::span<const float> values, std::size_t length);

/// Autocorrelation at lags 0 … values.size()-1, unbiased and divided by its value at lag 0; the mean is
/// removed first. Empty when the signal is constant.
[[nodiscard]] std::vector<float> autocorrelation(std::span<const float> values);

}  // namespace evenstroke::signal
