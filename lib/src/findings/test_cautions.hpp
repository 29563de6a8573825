// What can hurt someone in a test.
#pragma once

#include <string>
#include <vector>

namespace evenstroke::findings {

/// The cautions of these codes, each once, in a fixed order, and those that always hold.
[[nodiscard]] std::vector<std::string> test_cautions(const std::vector<std::string>& codes);

}  // namespace evenstroke::findings
