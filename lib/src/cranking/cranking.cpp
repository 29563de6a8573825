#include "evenstroke/cranking.hpp"

namespace evenstroke {
const char* name(CrankingEnd) {
    return "";
}
Cranking locate(const Trace&, const LocateOptions&) {
    return {};
}
}  // namespace evenstroke
