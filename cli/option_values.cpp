#include "option_values.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace evenstroke::cli {

double number(const std::string& text) {
    const char* first = text.data();
    const char* last = first + text.size();
    const bool plus = first != last && *first == '+';
    if (plus) ++first;
    double value = 0;
    const auto parsed = std::from_chars(first, last, value);
    if (parsed.ec != std::errc{} || parsed.ptr != last || !std::isfinite(value) || (plus && *first == '-'))
        throw BadUsage(fmt::format("\"{}\" is not a number", text));
    return value;
}

int whole_number(const std::string& text) {
    int value = 0;
    const auto parsed = std::from_chars(text.data(), text.data() + text.size(), value);
    if (parsed.ec != std::errc{} || parsed.ptr != text.data() + text.size())
        throw BadUsage(fmt::format("\"{}\" is not a whole number", text));
    return value;
}

std::string whole_number_problem(const std::string& text, std::uint64_t least,
                                 std::optional<std::uint64_t> most) {
    std::uint64_t value = 0;
    const auto parsed = std::from_chars(text.data(), text.data() + text.size(), value);
    const bool whole = parsed.ec == std::errc{} && parsed.ptr == text.data() + text.size();
    if (whole && value >= least && value <= most.value_or(value)) return {};
    return fmt::format(
        "\"{}\" is not a whole number {}", text,
        most ? fmt::format("from {} to {}", least, *most) : fmt::format("of {} or more", least));
}

std::vector<std::string> split(const std::string& text, const char* separators) {
    std::vector<std::string> parts;
    std::size_t at = 0;
    while (true) {
        const std::size_t end = std::min(text.find_first_of(separators, at), text.size());
        auto part = text.substr(at, end - at);
        part.erase(0, std::min(part.find_first_not_of(' '), part.size()));
        part.erase(part.find_last_not_of(' ') + 1);
        parts.push_back(part);
        if (end == text.size()) return parts;
        at = end + 1;
    }
}

}  // namespace evenstroke::cli
