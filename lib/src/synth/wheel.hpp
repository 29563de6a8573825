// A toothed wheel on the invented crank: where its edges lie, and what an inductive sensor makes of them.
#pragma once

#include <vector>

#include "synth/chain.hpp"

namespace evenstroke::synth {

struct Wheel {
    std::vector<Mark> marks;        ///< rising and falling edges of the teeth, ascending in [0, 2 pi)
    std::vector<double> tooth_rad;  ///< middle of each tooth, in [0, 2 pi)
    double width_rad = 0;           ///< of a tooth
};

/// Puts the pattern on the crank, each tooth a little off its place.
[[nodiscard]] Wheel make_wheel(const SynthChain& chain, Random& random);

/// Voltage of an inductive sensor over one turn at a given speed, highest value 1, at equal steps of angle.
[[nodiscard]] std::vector<double> wheel_shape(const Wheel& wheel);
[[nodiscard]] double shape_at(const std::vector<double>& shape, double angle_rad);

}  // namespace evenstroke::synth
