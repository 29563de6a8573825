// Whether a text says something.
#pragma once

#include <string>

namespace evenstroke::test {

inline bool holds(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

}  // namespace evenstroke::test
