// Edge lists: a row for every transition, at uneven times.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "evenstroke/recording.hpp"
#include "read/level_pair.hpp"

namespace evenstroke::reading {

/// 16 bytes each: 128 MB. A wheel of 60 teeth gives 120 edges a turn: an hour and a half of cranking.
inline constexpr std::size_t max_edges = 8'000'000;

class EdgeStore {
  public:
    explicit EdgeStore(std::size_t channels);
    enum class Verdict { taken, third_level, full };
    /// Levels of one row, NaN where unchanged. The first row tells the levels to begin with.
    [[nodiscard]] Verdict push_row(double time_s, std::span<const float> levels);

    std::vector<std::vector<Edge>> edges;   ///< [channels]
    std::vector<std::size_t> short_pulses;  ///< [channels]; left out, because both their edges bear one time

  private:
    std::vector<LevelPair> levels_;  ///< [channels]
    std::vector<float> level_;       ///< [channels]; NaN before the first
    std::size_t count_ = 0;
};

}  // namespace evenstroke::reading
