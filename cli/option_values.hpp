// Numbers and lists as an option's text holds them.
#pragma once

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

namespace evenstroke::cli {

/// Wrong usage: a value that is not of its option's kind, options that do not go together, or one that is
/// missing.
class BadUsage : public std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// A finite number with a decimal point; a leading plus is allowed. Throws BadUsage.
[[nodiscard]] double number(const std::string& text);
/// Throws BadUsage.
[[nodiscard]] int whole_number(const std::string& text);
/// What is wrong with the text of a whole number that lies between `least` and `most`
/// (empty: no upper limit worth saying); empty when nothing is.
[[nodiscard]] std::string whole_number_problem(const std::string& text, std::uint64_t least,
                                               std::optional<std::uint64_t> most);
/// The parts between any of `separators`, without blanks around them; at least one, perhaps empty.
[[nodiscard]] std::vector<std::string> split(const std::string& text, const char* separators);

}  // namespace evenstroke::cli
