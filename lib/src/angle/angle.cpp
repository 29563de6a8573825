#include "evenstroke/angle.hpp"

#include "load_angle.hpp"
#include "wheel_angle.hpp"

namespace evenstroke {

CrankAngle reference(const Recording& recording, const Trace& trace, const Cranking& cranking,
                     const EngineLayout& layout, const ReferenceOptions& options) {
    if (cranking.no_cranking) {
        CrankAngle none;
        none.no_reference = cranking.no_cranking;
        return none;
    }
    return trace.quantity == Quantity::wheel
               ? angle::reference_by_wheel(recording, trace, cranking, layout, options)
               : angle::reference_load(recording, trace, cranking, layout, options);
}

}  // namespace evenstroke
