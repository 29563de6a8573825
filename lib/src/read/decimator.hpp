// Fewer samples without aliasing: a linear-phase low-pass, then every factor-th sample.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "read/level_pair.hpp"

namespace evenstroke::reading {

/// Stop band attenuation of the low-pass, from the kept half-rate on: below the step of a 13-bit converter
/// at full scale, while the filter stays at 100 multiplications for each sample kept times the factor.
inline constexpr double stop_band_db = 80.0;
/// The pass band ends at this share of the kept half-rate: 10 kHz of 25 kHz kept, far above the commutation
/// ripple of a starter (1 to 4 kHz). Its ripple is within 0.001 dB.
inline constexpr double pass_band_ratio = 0.8;

/// Coefficients for a reduction by `factor` >= 2: odd count, symmetric, sum 1. Kaiser window (Kaiser 1974;
/// Oppenheim & Schafer, Discrete-Time Signal Processing, 7.5.3).
[[nodiscard]] std::vector<double> low_pass(int factor);

/// Reduces one channel, in pieces of any size: the result does not depend on them. Output sample k is centred
/// on input sample k * factor, so nothing moves in time. Beyond both ends the first and last sample are
/// taken to go on.
///
/// A stretch that holds two levels only and changes seldom (a sync mark, a tooth) is not filtered: it keeps
/// its two levels, an edge moves by less than one output sample, and a mark too short for the output rate is
/// kept one sample long.
class Decimator {
  public:
    explicit Decimator(int factor);
    /// Appends what is ready to `out`. Input must be finite.
    void push(std::span<const float> in, std::vector<float>& out);
    /// The input has ended: appends the rest. Altogether ceil(inputs / factor) samples come out.
    void finish(std::vector<float>& out);

  private:
    void append(float value);
    void drain(std::vector<float>& out);
    [[nodiscard]] float two_levels_or_filtered() const;
    [[nodiscard]] float filtered() const;

    std::size_t factor_;
    std::shared_ptr<const std::vector<double>> taps_;
    std::size_t reach_;           ///< taps on either side of the centre
    std::vector<double> window_;  ///< inputs from `at_` on are those of the next output
    std::size_t at_ = 0;
    std::size_t inputs_ = 0;
    std::size_t outputs_ = 0;
    LevelPair levels_;
    std::optional<std::size_t> third_level_at_;  ///< input at which the third value came
};

}  // namespace evenstroke::reading
