// The part of a recording that --from and --to leave. Private.
#pragma once

#include "evenstroke/cranking.hpp"

namespace evenstroke::cranking {

/// Throws Error{bad_option} where nothing of a recording from `start_s` to `end_s` lies in the part that was
/// asked for.
void require_inside(const LocateOptions& options, double start_s, double end_s);

}  // namespace evenstroke::cranking
