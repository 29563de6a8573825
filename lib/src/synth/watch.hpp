// What happens to every compression while the plant runs: firing TDC, peak, and what a gauge reads after it.
#pragma once

#include <vector>

#include "synth/plant.hpp"

namespace evenstroke::synth {

/// A phase of [0, 4 pi) as degrees after firing TDC, -360 to 360.
[[nodiscard]] double signed_deg(double phase_rad);

/// Where a compression's pressure is highest, to a fraction of a step: the vertex through three steps.
struct Top {
    double highest_pa = 0;  ///< 0: none yet
    double time_s = 0;
    double phase_rad = 0;
    double before_pa = 0, here_pa = 0, here_s = 0, here_rad = 0;

    void follow(double pressure_pa, double now_s, double now_rad, double turned_rad, double dt_s);
};

/// Follows the compressions of all cylinders while the plant runs.
class Watch {
  public:
    explicit Watch(const Plant& plant)
        : pending_(plant.cylinders.size(), false), tops_(plant.cylinders.size()) {}

    /// After every step, which began at `before_rad` and ended at `time_s`.
    void after_step(Plant& plant, double before_rad, double time_s, double dt_s);
    [[nodiscard]] const std::vector<SynthEvent>& events() const { return events_; }
    /// Of the gauge, after each of its cylinder's events that is over.
    [[nodiscard]] const std::vector<double>& puffs_kpa() const { return puffs_kpa_; }
    /// Closes what is still open where the run ends.
    void finish_all(const Plant& plant) {
        for (std::size_t i = 0; i < pending_.size(); ++i)
            if (pending_[i]) finish(plant, i);
    }

  private:
    void finish(const Plant& plant, std::size_t i);

    std::vector<SynthEvent> events_;
    std::vector<bool> pending_;
    std::vector<Top> tops_;
    std::vector<double> puffs_kpa_;
};

}  // namespace evenstroke::synth
