#include "evenstroke/angle.hpp"

#include <cmath>

#include "load_angle.hpp"
#include "wheel_angle.hpp"

namespace evenstroke {

namespace {

/// A mark lies within a cycle of the TDC it stands for; far beyond, an angle no longer holds single degrees.
void check_lead(double lead_deg) {
    if (!(std::abs(lead_deg) <= cycle_deg))
        throw Error(ErrorCode::bad_option, "--sync-lead", "the lead is more than a cycle of 720 degrees",
                    "give the crank degrees from the mark to TDC, as in --sync-lead 60");
}

}  // namespace

CrankAngle reference(const Recording& recording, const Trace& trace, const Cranking& cranking,
                     const EngineLayout& layout, const ReferenceOptions& options) {
    if (cranking.no_cranking) {
        CrankAngle none;
        none.no_reference = cranking.no_cranking;
        return none;
    }
    check_lead(options.sync_lead_deg);
    check_lead(options.wheel_lead_deg.value_or(0));
    return trace.quantity == Quantity::wheel
               ? angle::reference_by_wheel(recording, trace, cranking, layout, options)
               : angle::reference_load(recording, trace, cranking, layout, options);
}

}  // namespace evenstroke
