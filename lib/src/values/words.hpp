// Numbers in sentences.
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>

namespace evenstroke {

/// `value` to so many significant digits, whole numbers whole, no zeros at the end, no exponent (but for what
/// no sentence holds: below a millionth, from 10^9 on): "2030", "0.136".
[[nodiscard]] inline std::string plain(double value, int digits) {
    constexpr double longest = 1e9;
    constexpr double shortest = 1e-6;
    const double size = std::abs(value);
    if (!(size < longest) || (size < shortest && size > 0)) return fmt::format("{:.{}g}", value, digits);
    const int whole = size > 0 ? static_cast<int>(std::floor(std::log10(size))) + 1 : 1;
    std::string text = fmt::format("{:.{}f}", value, std::max(digits - whole, 0));
    if (text.find('.') == std::string::npos) return text;
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

/// "1 row", "2 rows": `plural` ends in s.
[[nodiscard]] inline std::string counted(std::size_t count, std::string plural) {
    if (count == 1) plural.pop_back();
    return fmt::format("{} {}", count, plural);
}

}  // namespace evenstroke
