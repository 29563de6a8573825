#include "evenstroke/angle.hpp"

namespace evenstroke {
WheelPattern parse_wheel(const std::string&) {
    return {};
}
}  // namespace evenstroke
