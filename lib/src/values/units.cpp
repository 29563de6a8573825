#include "evenstroke/units.hpp"

namespace evenstroke {
std::optional<Unit> find_unit(std::string_view) {
    return std::nullopt;
}
}  // namespace evenstroke
