#include "evenstroke/findings.hpp"

namespace evenstroke {
const char* name(Verdict) {
    return "";
}
const char* name(Outcome) {
    return "";
}
Findings judge(const Trace&, const Cranking&, const CrankAngle&, const Contribution&, const EngineLayout&,
               const FindingOptions&) {
    return {};
}
}  // namespace evenstroke
