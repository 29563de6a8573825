// Random numbers that come out alike with every standard library: only the raw bits of the generator, whose
// output the standard fixes, are used; the distributions are our own.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>

namespace evenstroke::synth {

class Random {
  public:
    explicit Random(std::uint64_t seed) : bits_(seed) {}

    /// Uniform in [0, 1): the 53 highest bits.
    double unit() { return static_cast<double>(bits_() >> 11) * 0x1p-53; }
    double between(double low, double high) { return low + (high - low) * unit(); }
    /// Whole number in [0, count).
    int below(int count) { return static_cast<int>(unit() * count); }
    bool chance(double probability) { return unit() < probability; }
    /// Standard normal, by the Box-Muller transform; the second value of each pair is kept.
    double normal() {
        if (has_spare_) {
            has_spare_ = false;
            return spare_;
        }
        const double radius = std::sqrt(-2 * std::log(1 - unit()));
        const double angle = 2 * std::numbers::pi * unit();
        spare_ = radius * std::sin(angle);
        has_spare_ = true;
        return radius * std::cos(angle);
    }

  private:
    std::mt19937_64 bits_;
    double spare_ = 0;
    bool has_spare_ = false;
};

}  // namespace evenstroke::synth
