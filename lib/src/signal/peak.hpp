// Where a sampled peak really is: the parabola through three samples.
#pragma once

#include <cstddef>
#include <span>

namespace evenstroke::signal {

/// The vertex of the parabola through three neighbouring samples.
struct Peak {
    double offset = 0;  ///< from the middle sample, in samples; within -0.5 … 0.5 if the middle is highest
    double value = 0;   ///< of the parabola there
    double curvature = 0;  ///< half the second derivative, per sample²: negative for a peak
};

/// Source: J. O. Smith, Spectral Audio Signal Processing, "Quadratic Interpolation of Spectral Peaks".
/// Exact on a parabola. Three values in a line have no vertex: the middle sample is returned, curvature 0.
[[nodiscard]] Peak parabolic_peak(double before, double middle, double after);

/// The same around values[index]; at either end of the span the sample itself.
[[nodiscard]] Peak parabolic_peak(std::span<const double> values, std::size_t index);
[[nodiscard]] Peak parabolic_peak(std::span<const float> values, std::size_t index);

}  // namespace evenstroke::signal
