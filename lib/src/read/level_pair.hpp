// The values seen of a channel that knows two.
#pragma once

#include <optional>

namespace evenstroke::reading {

/// 0 and 1, or the two voltages of a sensor.
class LevelPair {
  public:
    /// False for a third value. `level` must be a number.
    [[nodiscard]] bool take(float level) {
        if (!first_) first_ = level;
        if (level == *first_) return true;
        if (!other_) other_ = level;
        return level == *other_;
    }
    [[nodiscard]] bool any() const { return first_.has_value(); }

  private:
    std::optional<float> first_;
    std::optional<float> other_;
};

}  // namespace evenstroke::reading
