// Numbers and lists as an option's text holds them.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

namespace evenstroke::cli {

/// A value that is not of its option's kind, or an option that is missing: wrong usage.
class BadUsage : public std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// A finite number with a decimal point; a leading plus is allowed. Throws BadUsage.
[[nodiscard]] double number(const std::string& text);
/// Throws BadUsage.
[[nodiscard]] int whole_number(const std::string& text);
/// The parts between any of `separators`, without blanks around them; at least one, perhaps empty.
[[nodiscard]] std::vector<std::string> split(const std::string& text, const char* separators);

}  // namespace evenstroke::cli
