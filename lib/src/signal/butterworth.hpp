// Butterworth low-pass filters as second-order sections, run once or forwards and backwards.
// No stage needs it yet; it is held against references and scipy for whoever adds one.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::signal {

/// One section: y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2]. Its gain at 0 Hz is 1.
struct Section {
    double b0 = 1;
    double b1 = 0;
    double b2 = 0;
    double a1 = 0;
    double a2 = 0;
};

/// Sections of a Butterworth low-pass of `order` (>= 1) that is 3 dB down at `cutoff_hz` (0 < cutoff_hz <
/// rate_hz / 2), by the bilinear transform with the cut-off prewarped. An odd order ends in a section of
/// first order. Source: the textbook design; the poles lie at angles pi (2k + 1) / (2 order).
[[nodiscard]] std::vector<Section> butterworth_low_pass(int order, double cutoff_hz, double rate_hz);

/// The same, but 3 dB down at `cutoff_hz` after filtering forwards and backwards: the single pass is designed
/// (sqrt(2) - 1)^(-1 / (2 order)) higher in prewarped frequency. Source: Winter, Biomechanics (from memory).
/// The single pass's own cut-off always stays below rate_hz / 2.
[[nodiscard]] std::vector<Section> butterworth_low_pass_two_way(int order, double cutoff_hz, double rate_hz);

/// Filters once, forwards, starting at rest on the first value: a constant stays that constant.
[[nodiscard]] std::vector<double> filter(std::span<const Section> sections, std::span<const double> values);

/// Filters forwards and backwards: no delay, squared gain. The ends are continued by a point reflection about
/// the end value, as long as scipy.signal.sosfiltfilt takes by default (3 (2 sections + 1), one coefficient
/// less for a first-order section), or as long as the values allow. Same length as `values`; empty for
/// nothing.
[[nodiscard]] std::vector<double> filter_two_way(std::span<const Section> sections,
                                                 std::span<const double> values);
/// The same in place on single-precision values, double inside each pass: for long traces.
void filter_two_way(std::span<const Section> sections, std::vector<float>& values);

}  // namespace evenstroke::signal
