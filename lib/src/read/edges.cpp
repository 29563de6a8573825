#include "read/edges.hpp"

#include <cmath>
#include <limits>

namespace evenstroke::reading {

EdgeStore::EdgeStore(std::size_t channels)
    : edges(channels),
      short_pulses(channels, 0),
      levels_(channels),
      level_(channels, std::numeric_limits<float>::quiet_NaN()) {}

EdgeStore::Verdict EdgeStore::push_row(double time_s, std::span<const float> levels) {
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const float level = levels[i];
        if (std::isnan(level)) continue;
        if (level == level_[i]) continue;
        if (!levels_[i].take(level)) return Verdict::third_level;
        const bool known = !std::isnan(level_[i]);
        const bool rising = level > level_[i];
        level_[i] = level;
        if (!known) continue;
        // Two edges of one channel at one time: a pulse shorter than the stamps' step, so both go.
        if (!edges[i].empty() && edges[i].back().time_s == time_s) {
            edges[i].pop_back();
            --count_;
            ++short_pulses[i];
            continue;
        }
        if (++count_ > max_edges) return Verdict::full;
        edges[i].push_back({time_s, rising});
    }
    return Verdict::taken;
}

}  // namespace evenstroke::reading
