#include "evenstroke/cranking.hpp"

#include "load_cranking.hpp"
#include "load_levels.hpp"
#include "wheel_cranking.hpp"

namespace evenstroke {

const char* name(CrankingEnd end) {
    switch (end) {
        case CrankingEnd::release:
            return "release";
        case CrankingEnd::engine_start:
            return "engine start";
        case CrankingEnd::recording_end:
            break;
    }
    return "end of recording";
}

bool flat(const Cranking& cranking) {
    return cranking.swing_ratio && *cranking.swing_ratio < cranking::flat_ratio;
}

Cranking locate(const Trace& trace, const LocateOptions& options) {
    return trace.quantity == Quantity::wheel ? cranking::locate_wheel(trace, options)
                                             : cranking::locate_load(trace, options);
}

}  // namespace evenstroke
