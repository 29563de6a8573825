// The end of cranking as the stage's two ways find it. Private to the library.
#pragma once

#include <optional>

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

/// The last usable instant, and what ended it.
struct UsableEnd {
    double end_s = 0;
    CrankingEnd ended_by = CrankingEnd::recording_end;
    /// What another consumer took until then, in the load's unit: the starter turned on, but over another
    /// zero.
    std::optional<double> switched_off = {};
};

}  // namespace evenstroke::cranking
