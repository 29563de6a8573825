#include "evenstroke/angle.hpp"

namespace evenstroke {
const char* name(ReferenceKind) {
    return "";
}
CrankAngle reference(const Recording&, const Trace&, const Cranking&, const EngineLayout&,
                     const ReferenceOptions&) {
    return {};
}
std::optional<double> CrankAngle::at(double) const {
    return std::nullopt;
}
}  // namespace evenstroke
