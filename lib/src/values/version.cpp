#include "evenstroke/version.hpp"

namespace evenstroke {

const char* version() {
    return EVENSTROKE_VERSION;  // defined by lib/CMakeLists.txt from the project's version
}

}  // namespace evenstroke
