// The rhythm of the compressions: which of them the starter drove, steadily and unfired.
#pragma once

#include <cstddef>
#include <vector>

#include "pulses.hpp"

namespace evenstroke::pressure {

/// Neighbouring pulses [first, last) of a train.
struct Stretch {
    std::size_t first = 0;
    std::size_t last = 0;
    double period_s = 0;  ///< median between its pulses; 0 when it holds one

    [[nodiscard]] std::size_t size() const { return last - first; }
};

/// Why the pulses after the driven ones do not count.
enum class Ending {
    recording,  ///< there are none, and the recording ends within a cycle
    run_down,   ///< slower, lower or rocking back: the key was released
    fired,      ///< faster, higher, or held up after the peak
};

struct Driven {
    Stretch stretch;  ///< empty when no pulse was driven
    Ending ending = Ending::recording;
};

/// The driven part of `pulses`, which are in time order: the longest stretch of even distances and even
/// shapes that is not fired and not faster than a starter turns, with the first pulses while the engine
/// speeds up.
[[nodiscard]] Driven find_driven(const std::vector<RoughPulse>& pulses, double rest, double recording_end_s);

/// Whether a pulse stands up after its peak, as burning holds it.
[[nodiscard]] bool burns(const RoughPulse& pulse);

/// How many compressions stand much lower than those before them, while the crank goes on at its rhythm:
/// before others as high as the first ones, or to the end. 0 where none do, or where some burn.
[[nodiscard]] std::size_t low_in_rhythm(const std::vector<RoughPulse>& pulses, double rest);

/// Whether neighbours differ in turn, in height or distance, as those of two cylinders do.
[[nodiscard]] bool two_cylinders(const std::vector<RoughPulse>& pulses, double rest);

}  // namespace evenstroke::pressure
