#include "read/cells.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>

namespace evenstroke::reading {

namespace {

/// Numbers longer than this are not measurements.
constexpr std::size_t max_number_length = 64;

/// SCPI-1999 vol. 1, 7.2.1.4 and 7.2.1.5: 9.9E37 stands for infinity, 9.91E37 for not-a-number (from memory).
constexpr double scpi_infinity = 9.9e37;
constexpr double scpi_not_a_number = 9.91e37;

constexpr std::string_view minus_sign = "\xE2\x88\x92";  // U+2212

struct Word {
    std::string_view text;  // lower case, without sign
    CellKind kind;
    int sign;  // of an over-range; or the level of a number
};

/// What instruments write instead of a number. Common practice, no published source.
constexpr std::array words{
    Word{"\xE2\x88\x9E", CellKind::over_range, +1},  // U+221E, the infinity sign
    Word{"inf", CellKind::over_range, +1},
    Word{"infinity", CellKind::over_range, +1},
    Word{"1.#inf", CellKind::over_range, +1},
    Word{"#inf", CellKind::over_range, +1},
    Word{"over", CellKind::over_range, 0},
    Word{"overrange", CellKind::over_range, 0},
    Word{"over range", CellKind::over_range, 0},
    Word{"over-range", CellKind::over_range, 0},
    Word{"overflow", CellKind::over_range, 0},
    Word{"overload", CellKind::over_range, 0},
    Word{"ovr", CellKind::over_range, 0},
    Word{"ovl", CellKind::over_range, 0},
    Word{"ol", CellKind::over_range, 0},
    Word{"o.l", CellKind::over_range, 0},
    Word{"o.l.", CellKind::over_range, 0},
    Word{"clip", CellKind::over_range, 0},
    Word{"clipped", CellKind::over_range, 0},
    Word{"under", CellKind::over_range, -1},
    Word{"underrange", CellKind::over_range, -1},
    Word{"under range", CellKind::over_range, -1},
    Word{"under-range", CellKind::over_range, -1},
    Word{"nan", CellKind::gap, 0},
    Word{"1.#qnan", CellKind::gap, 0},
    Word{"1.#ind", CellKind::gap, 0},
    Word{"#n/a", CellKind::gap, 0},
    Word{"n/a", CellKind::gap, 0},
    Word{"na", CellKind::gap, 0},
    Word{"null", CellKind::gap, 0},
    Word{"none", CellKind::gap, 0},
    Word{"missing", CellKind::gap, 0},
    Word{"invalid", CellKind::gap, 0},
    Word{"err", CellKind::gap, 0},
    Word{"n.a.", CellKind::gap, 0},
    Word{"n.c.", CellKind::gap, 0},
    Word{"#div/0!", CellKind::gap, 0},
    Word{"#nv", CellKind::gap, 0},
    Word{"#value!", CellKind::gap, 0},
    Word{"?", CellKind::gap, 0},
    Word{"*", CellKind::gap, 0},
    Word{"-", CellKind::gap, 0},
    Word{"--", CellKind::gap, 0},
    Word{"---", CellKind::gap, 0},
};

/// Levels in words.
constexpr std::array levels{Word{"true", CellKind::number, 1}, Word{"false", CellKind::number, 0},
                            Word{"on", CellKind::number, 1},   Word{"off", CellKind::number, 0},
                            Word{"high", CellKind::number, 1}, Word{"low", CellKind::number, 0}};

Cell parse_word(std::string_view text) {
    std::string word = lower(text);
    for (const Word& known : words)
        if (known.kind == CellKind::gap && word == known.text) return {CellKind::gap, 0};
    for (const Word& level : levels)
        if (word == level.text) return {level.kind, static_cast<double>(level.sign), true};
    int sign = 0;
    if (word.starts_with('+') || word.starts_with('-')) {
        sign = word[0] == '-' ? -1 : +1;
        word.erase(0, 1);
    } else if (word.starts_with(minus_sign)) {
        sign = -1;
        word.erase(0, minus_sign.size());
    }
    for (const Word& known : words)
        if (word == known.text)
            return {known.kind, static_cast<double>(sign == 0         ? known.sign
                                                    : known.sign == 0 ? sign
                                                                      : sign * known.sign)};
    return {CellKind::text, 0};
}

Cell classify(double value) {
    if (std::isnan(value) || std::abs(value) == scpi_not_a_number) return {CellKind::gap, 0};
    if (std::isinf(value) || std::abs(value) == scpi_infinity)
        return {CellKind::over_range, value > 0 ? 1.0 : -1.0};
    return {CellKind::number, value};
}

std::optional<int> digits_at(std::string_view text, std::size_t at, std::size_t count) {
    if (text.size() < at + count || !all_digits(text.substr(at, count))) return std::nullopt;
    int value = 0;
    std::from_chars(text.data() + at, text.data() + at + count, value);
    return value;
}

/// Takes a number of one to `most` digits from the front.
std::optional<int> take_digits(std::string_view& text, std::size_t most) {
    std::size_t count = 0;
    while (count < text.size() && count < most && text[count] >= '0' && text[count] <= '9') ++count;
    const auto value = digits_at(text, 0, count);
    if (value) text.remove_prefix(count);
    return value;
}

bool take(std::string_view& text, char wanted) {
    if (!text.starts_with(wanted)) return false;
    text.remove_prefix(1);
    return true;
}

/// The fraction behind a point, a comma or, in milliseconds, a colon; 0 without one.
double take_fraction(std::string_view& text) {
    const bool colon = text.starts_with(':') && text.size() == 4 && all_digits(text.substr(1));
    if (!colon && !text.starts_with('.') && !text.starts_with(',')) return 0;
    double fraction = 0;
    double place = 0.1;
    std::size_t at = 1;
    for (; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, place /= 10)
        fraction += place * (text[at] - '0');
    text.remove_prefix(at);
    return fraction;
}

/// Hours that "AM" or "PM" behind a clock add; taken from the text.
double take_half_day(std::string_view& text, int hours) {
    const std::string word = lower(trim(text));
    if ((word != "am" && word != "pm") || hours > 12) return 0;
    text = {};
    return (word == "pm" ? 12 : 0) - (hours == 12 ? 12 : 0);
}

/// Seconds that a zone behind a clock is ahead of UTC ("Z", "+01:00", "-0330", "+01",
/// "+01:00[Europe/Berlin]"), 0 without one; empty when something else stands there.
std::optional<int> zone_s(std::string_view text) {
    // Its name says nothing more.
    if (const std::size_t name = text.find_first_of("[("); name != std::string_view::npos && name > 0)
        text = trim(text.substr(0, name));
    if (text.empty() || text == "Z" || text == "z") return 0;
    const int sign = text.front() == '-' ? -1 : 1;
    if (!take(text, '+') && !take(text, '-')) return std::nullopt;
    const auto hours = take_digits(text, 2);
    take(text, ':');
    const auto minutes = text.empty() ? std::optional(0) : take_digits(text, 2);
    if (!hours || !minutes || *minutes >= 60 || !text.empty()) return std::nullopt;
    return sign * (*hours * 3600 + *minutes * 60);
}

/// "hh:mm:ss" with an optional fraction, AM or PM, and zone; "mm:ss" only with a fraction. Hours may count on
/// beyond a day, and minutes that come first beyond an hour; a leap second is the 60th.
std::optional<double> parse_clock(std::string_view text) {
    constexpr int most_minutes = 59;
    constexpr int most_seconds = 60;
    const auto first = take_digits(text, 2);
    if (!first || !take(text, ':')) return std::nullopt;
    const auto second = take_digits(text, 2);
    if (!second || *second > most_seconds) return std::nullopt;
    if (text.starts_with('.') || text.starts_with(',')) {
        const double fraction = take_fraction(text);
        return text.empty() ? std::optional(*first * 60 + *second + fraction) : std::nullopt;
    }
    if (*second > most_minutes || !take(text, ':')) return std::nullopt;
    const auto third = take_digits(text, 2);
    if (!third || *third > most_seconds) return std::nullopt;
    const double fraction = take_fraction(text);
    const double hours = *first + take_half_day(text, *first);
    const auto zone = zone_s(trim(text));
    if (!zone) return std::nullopt;
    return hours * 3600 + *second * 60 + *third + fraction - *zone;
}

/// A date in front of a clock: yyyy-mm-dd, yyyymmdd, dd.mm.yyyy, or mm/dd/yyyy (dd/mm when only that can be).
std::optional<int> take_date(std::string_view& text) {
    const auto day_of = [](int year, int month, int day) -> std::optional<int> {
        const std::chrono::year_month_day date{std::chrono::year(year),
                                               std::chrono::month(static_cast<unsigned>(month)),
                                               std::chrono::day(static_cast<unsigned>(day))};
        if (!date.ok()) return std::nullopt;  // the 30th of February
        return std::chrono::sys_days(date).time_since_epoch().count();
    };
    constexpr std::size_t compact = 8;  // yyyymmdd
    if (text.size() > compact && all_digits(text.substr(0, compact))) {
        const auto date = text.substr(0, compact);
        text.remove_prefix(compact);
        return day_of(*digits_at(date, 0, 4), *digits_at(date, 4, 2), *digits_at(date, 6, 2));
    }
    const auto first = take_digits(text, 4);
    const char joint = text.empty() ? ' ' : text.front();
    if (!first || std::string_view("-/.").find(joint) == std::string_view::npos) return std::nullopt;
    take(text, joint);
    const auto second = take_digits(text, 2);
    if (!second || !take(text, joint)) return std::nullopt;
    const auto third = take_digits(text, 4);
    if (!third) return std::nullopt;
    if (*first > 31) return day_of(*first, *second, *third);
    if (joint == '/' && *first <= 12) return day_of(*third, *first, *second);
    return day_of(*third, *second, *first);
}

/// "101500.25" behind a compact date, as "10:15:00.25".
std::string with_colons(std::string_view clock) {
    constexpr std::size_t compact = 6;  // hhmmss
    if (clock.size() < compact || !all_digits(clock.substr(0, compact))) return std::string(clock);
    return std::string(clock.substr(0, 2)) + ":" + std::string(clock.substr(2, 2)) + ":" +
           std::string(clock.substr(4));
}

}  // namespace

bool all_digits(std::string_view text) {
    return !text.empty() && std::all_of(text.begin(), text.end(), is_digit);
}

std::string lower(std::string_view text) {
    std::string result(text);
    for (char& c : result)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return result;
}

std::string_view trim(std::string_view text) {
    constexpr std::string_view no_break = "\xC2\xA0";
    for (;;) {
        if (text.starts_with(' ') || text.starts_with('\t'))
            text.remove_prefix(1);
        else if (text.ends_with(' ') || text.ends_with('\t') || text.ends_with('\r'))
            text.remove_suffix(1);
        else if (text.starts_with(no_break))
            text.remove_prefix(no_break.size());
        else if (text.ends_with(no_break))
            text.remove_suffix(no_break.size());
        else
            return text;
    }
}

std::string_view strip_quotes(std::string_view cell) {
    cell = trim(cell);
    if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"')
        cell = trim(cell.substr(1, cell.size() - 2));
    return cell;
}

std::string unquote(std::string_view cell) {
    const std::string_view trimmed = trim(cell);
    if (trimmed.size() < 2 || trimmed.front() != '"' || trimmed.back() != '"') return std::string(trimmed);
    std::string result;
    for (std::size_t i = 1; i + 1 < trimmed.size(); ++i) {
        result.push_back(trimmed[i]);
        if (trimmed[i] == '"' && trimmed[i + 1] == '"') ++i;
    }
    return result;
}

void split(std::string_view record, char delimiter, std::vector<std::string_view>& cells) {
    cells.clear();
    const bool blanks = delimiter == ' ';
    const auto parts = [&](char c) { return blanks ? c == ' ' || c == '\t' : c == delimiter; };
    if (trim(record).empty() && delimiter != '\t') return;
    std::size_t at = 0;
    for (;;) {
        if (blanks) {
            while (at < record.size() && parts(record[at])) ++at;
            if (at == record.size()) return;
        }
        const std::size_t start = at;
        while (at < record.size() && record[at] == ' ') ++at;
        if (at < record.size() && record[at] == '"') {
            for (++at; at < record.size(); ++at) {
                if (record[at] != '"') continue;
                if (at + 1 < record.size() && record[at + 1] == '"')
                    ++at;
                else
                    break;
            }
        }
        while (at < record.size() && !parts(record[at])) ++at;
        cells.push_back(record.substr(start, at - start));
        if (at >= record.size()) return;
        ++at;
    }
}

Cell parse_cell(std::string_view cell, char decimal) {
    std::string_view text = strip_quotes(cell);
    if (text.empty()) return {CellKind::gap, 0};
    const std::string_view whole = text;
    std::array<char, max_number_length> buffer{};
    std::string with_hyphen;
    if (text.starts_with(minus_sign)) {
        with_hyphen = "-" + std::string(text.substr(minus_sign.size()));
        text = with_hyphen;
    }
    if (text.front() == '+' && text.size() > 1 && text[1] != '-' && text[1] != '+') text.remove_prefix(1);
    if (text.size() > buffer.size()) return {CellKind::text, 0};
    if (decimal == ',') {
        if (text.find('.') != std::string_view::npos) return parse_word(whole);
        std::replace_copy(text.begin(), text.end(), buffer.begin(), ',', '.');
        text = {buffer.data(), text.size()};
    }
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (end != text.data() + text.size()) return parse_word(whole);
    if (error == std::errc::result_out_of_range) {  // 1e-400 is nothing, 1e400 is beyond every range
        const std::size_t exponent = text.find_first_of("eE");
        if (exponent != std::string_view::npos && exponent + 1 < text.size() && text[exponent + 1] == '-')
            return {CellKind::number, 0};
        return {CellKind::over_range, text.front() == '-' ? -1.0 : 1.0};
    }
    if (error != std::errc{}) return parse_word(whole);
    return classify(value);
}

std::optional<Measure> parse_measure(std::string_view cell, char decimal) {
    cell = strip_quotes(cell);
    const std::size_t end = cell.find_first_not_of("+-0123456789.,eE");
    std::size_t length = end == std::string_view::npos ? cell.size() : end;
    while (length > 0) {
        const Cell number = parse_cell(cell.substr(0, length), decimal);
        if (number.kind == CellKind::number) return Measure{number, trim(cell.substr(length))};
        --length;  // "5E" of "5Eq": give the letter back
    }
    return std::nullopt;
}

std::optional<float> to_sample(const Cell& cell) {
    constexpr float infinity = std::numeric_limits<float>::infinity();
    switch (cell.kind) {
        case CellKind::number: {
            const auto value = static_cast<float>(cell.value);
            if (std::abs(value) >= over_range_unsigned) return value > 0 ? infinity : -infinity;
            return value;
        }
        case CellKind::gap:
            return std::numeric_limits<float>::quiet_NaN();
        case CellKind::over_range:
            return cell.value == 0 ? over_range_unsigned : cell.value > 0 ? infinity : -infinity;
        case CellKind::text:
            break;
    }
    return std::nullopt;
}

std::optional<DateTime> parse_date_time(std::string_view cell) {
    std::string_view text = strip_quotes(cell);
    if (const auto clock = parse_clock(text)) return DateTime{{}, *clock};
    const auto day = take_date(text);
    if (!day || (!text.starts_with('T') && !text.starts_with('t') && !text.starts_with(' ')))
        return std::nullopt;
    const auto clock = parse_clock(with_colons(trim(text.substr(1))));
    if (!clock) return std::nullopt;
    return DateTime{*day, *clock};
}

}  // namespace evenstroke::reading
