#include "evenstroke/units.hpp"

#include <algorithm>
#include <array>

#include "values/pressure_factors.hpp"

namespace evenstroke {

namespace {

struct Spelling {
    std::string_view text;
    const char* symbol;
    Dimension dimension;
    double factor;
};

// NIST SP 811 (2008), App. B.8.
constexpr double kpa_per_atm = 101.325;            // exact
constexpr double kpa_per_kgf_cm2 = 98.0665;        // exact
constexpr double deg_per_rad = 57.29577951308232;  // 180 / pi

/// Case matters here: m is milli, M is mega.
constexpr std::array exact{
    Spelling{"A", "A", Dimension::current, 1},
    Spelling{"mA", "mA", Dimension::current, 1e-3},
    Spelling{"\xC2\xB5"
             "A",
             "\xC2\xB5"
             "A",
             Dimension::current, 1e-6},
    Spelling{"uA",
             "\xC2\xB5"
             "A",
             Dimension::current, 1e-6},
    Spelling{"kA", "kA", Dimension::current, 1e3},
    Spelling{"V", "V", Dimension::voltage, 1},
    Spelling{"mV", "mV", Dimension::voltage, 1e-3},
    Spelling{"\xC2\xB5V", "\xC2\xB5V", Dimension::voltage, 1e-6},
    Spelling{"uV", "\xC2\xB5V", Dimension::voltage, 1e-6},
    Spelling{"kV", "kV", Dimension::voltage, 1e3},
    Spelling{"s", "s", Dimension::time, 1},
    Spelling{"ms", "ms", Dimension::time, 1e-3},
    Spelling{"\xC2\xB5s", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"us", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"ns", "ns", Dimension::time, 1e-9},
    Spelling{"min", "min", Dimension::time, 60},
    Spelling{"Pa", "Pa", Dimension::pressure, 1e-3},
    Spelling{"hPa", "hPa", Dimension::pressure, 0.1},
    Spelling{"kPa", "kPa", Dimension::pressure, 1},
    Spelling{"MPa", "MPa", Dimension::pressure, 1e3},
    Spelling{"bar", "bar", Dimension::pressure, 100},
    Spelling{"mbar", "mbar", Dimension::pressure, 0.1},
    Spelling{"m", "m", Dimension::length, 1},
    Spelling{"mm", "mm", Dimension::length, 1e-3},
    Spelling{"cm", "cm", Dimension::length, 1e-2},
    Spelling{"rpm", "rpm", Dimension::speed, 1},
    Spelling{"deg", "deg", Dimension::angle, 1},
    Spelling{"rad", "rad", Dimension::angle, deg_per_rad},
    Spelling{"K", "K", Dimension::temperature, 1},
    Spelling{"%", "%", Dimension::ratio, 0.01},
};

/// Lower-case spellings that people write for these; nothing here can be taken for another unit.
constexpr std::array loose{
    Spelling{"a", "A", Dimension::current, 1},
    Spelling{"amp", "A", Dimension::current, 1},
    Spelling{"amps", "A", Dimension::current, 1},
    Spelling{"ampere", "A", Dimension::current, 1},
    Spelling{"amperes", "A", Dimension::current, 1},
    Spelling{"milliamps", "mA", Dimension::current, 1e-3},
    Spelling{"milliamperes", "mA", Dimension::current, 1e-3},
    Spelling{"ka", "kA", Dimension::current, 1e3},
    Spelling{"v", "V", Dimension::voltage, 1},
    Spelling{"volt", "V", Dimension::voltage, 1},
    Spelling{"volts", "V", Dimension::voltage, 1},
    Spelling{"millivolt", "mV", Dimension::voltage, 1e-3},
    Spelling{"millivolts", "mV", Dimension::voltage, 1e-3},
    Spelling{"kv", "kV", Dimension::voltage, 1e3},
    Spelling{"s", "s", Dimension::time, 1},       // "TIME (S)": nobody cranks in siemens
    Spelling{"ms", "ms", Dimension::time, 1e-3},  // "TIME (MS)": nor in megaseconds
    Spelling{"sec", "s", Dimension::time, 1},
    Spelling{"secs", "s", Dimension::time, 1},
    Spelling{"second", "s", Dimension::time, 1},
    Spelling{"seconds", "s", Dimension::time, 1},
    Spelling{"msec", "ms", Dimension::time, 1e-3},
    Spelling{"millisecond", "ms", Dimension::time, 1e-3},
    Spelling{"milliseconds", "ms", Dimension::time, 1e-3},
    Spelling{"us", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"\xC2\xB5s", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"\xC2\xB5sec", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"usec", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"micros", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"millis", "ms", Dimension::time, 1e-3},
    Spelling{"msek", "ms", Dimension::time, 1e-3},
    Spelling{"sec.", "s", Dimension::time, 1},
    Spelling{"sek", "s", Dimension::time, 1},
    Spelling{"sek.", "s", Dimension::time, 1},
    Spelling{"sekunde", "s", Dimension::time, 1},
    Spelling{"sekunden", "s", Dimension::time, 1},
    Spelling{"millisekunden", "ms", Dimension::time, 1e-3},
    Spelling{"mikrosekunden", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"secondes", "s", Dimension::time, 1},
    Spelling{"secondi", "s", Dimension::time, 1},
    Spelling{"segundos", "s", Dimension::time, 1},
    Spelling{"microsecond", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"microseconds", "\xC2\xB5s", Dimension::time, 1e-6},
    Spelling{"nsec", "ns", Dimension::time, 1e-9},
    Spelling{"nanosecond", "ns", Dimension::time, 1e-9},
    Spelling{"nanoseconds", "ns", Dimension::time, 1e-9},
    Spelling{"minute", "min", Dimension::time, 60},
    Spelling{"minutes", "min", Dimension::time, 60},
    Spelling{"psi", "psi", Dimension::pressure, kpa_per_psi},
    Spelling{"lbf/in2", "psi", Dimension::pressure, kpa_per_psi},
    Spelling{"kpa", "kPa", Dimension::pressure, 1},
    Spelling{"hpa", "hPa", Dimension::pressure, 0.1},
    Spelling{"pascal", "Pa", Dimension::pressure, 1e-3},
    Spelling{"pascals", "Pa", Dimension::pressure, 1e-3},
    Spelling{"inhg", "inHg", Dimension::pressure, kpa_per_inhg},
    Spelling{"mmhg", "mmHg", Dimension::pressure, kpa_per_mmhg},
    Spelling{"torr", "torr", Dimension::pressure, kpa_per_atm / 760},
    Spelling{"atm", "atm", Dimension::pressure, kpa_per_atm},
    Spelling{"kgf/cm2", "kgf/cm\xC2\xB2", Dimension::pressure, kpa_per_kgf_cm2},
    Spelling{"kgf/cm\xC2\xB2", "kgf/cm\xC2\xB2", Dimension::pressure, kpa_per_kgf_cm2},
    Spelling{"kg/cm2", "kgf/cm\xC2\xB2", Dimension::pressure,
             kpa_per_kgf_cm2},  // of a gauge: a force all the same
    Spelling{"kg/cm\xC2\xB2", "kgf/cm\xC2\xB2", Dimension::pressure, kpa_per_kgf_cm2},
    Spelling{"n/mm2", "MPa", Dimension::pressure, 1e3},
    Spelling{"n/mm\xC2\xB2", "MPa", Dimension::pressure, 1e3},
    Spelling{"in", "in", Dimension::length, 0.0254},
    Spelling{"inch", "in", Dimension::length, 0.0254},
    Spelling{"rev/min", "rpm", Dimension::speed, 1},
    Spelling{"r/min", "rpm", Dimension::speed, 1},
    Spelling{"1/min", "rpm", Dimension::speed, 1},
    Spelling{"\xC2\xB0", "deg", Dimension::angle, 1},
    Spelling{"degree", "deg", Dimension::angle, 1},
    Spelling{"degrees", "deg", Dimension::angle, 1},
    Spelling{"\xC2\xB0"
             "c",
             "\xC2\xB0"
             "C",
             Dimension::temperature, 1},
    Spelling{"degc",
             "\xC2\xB0"
             "C",
             Dimension::temperature, 1},
    Spelling{"percent", "%", Dimension::ratio, 0.01},
    Spelling{"bar", "bar", Dimension::pressure, 100},
    Spelling{"mbar", "mbar", Dimension::pressure, 0.1},
    Spelling{"rpm", "rpm", Dimension::speed, 1},
    Spelling{"deg", "deg", Dimension::angle, 1},
};

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

std::string_view without_brackets(std::string_view text) {
    for (;;) {
        const std::string_view before = text;
        while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
        while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
        if (text.size() >= 2 &&
            ((text.front() == '(' && text.back() == ')') || (text.front() == '[' && text.back() == ']')))
            text = text.substr(1, text.size() - 2);
        if (text == before) return text;
    }
}

template <typename Table>
std::optional<Unit> look_up(const Table& table, std::string_view text) {
    const auto found =
        std::find_if(table.begin(), table.end(), [text](const Spelling& s) { return s.text == text; });
    if (found == table.end()) return std::nullopt;
    return Unit{found->symbol, found->dimension, found->factor};
}

std::string in_lower_case(std::string text) {
    for (char& c : text)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return text;
}

std::optional<Unit> plain_unit(std::string_view text, std::string_view lower) {
    const auto unit = look_up(exact, text);
    return unit ? unit : look_up(loose, lower);
}

/// Of `text` in lower case, how many letters at its end say what a pressure is counted from ("barg", "kPa
/// (abs)"): the values show which zero it is, so it is not kept.
std::size_t letters_of_zero(std::string_view lower) {
    for (const std::string_view end :
         {"(gauge)", "(abs)", "(g)", "(a)", "gauge", "absolute", "abs", "g", "a"})
        if (lower.size() > end.size() && lower.ends_with(end)) return end.size();
    return 0;
}

}  // namespace

std::optional<Unit> find_unit(std::string_view text) {
    std::string wanted(without_brackets(text));
    constexpr std::string_view greek_mu = "\xCE\xBC";  // U+03BC; the table has the micro sign U+00B5
    if (wanted.starts_with(greek_mu)) wanted.replace(0, greek_mu.size(), "\xC2\xB5");
    const std::string lower = in_lower_case(wanted);
    if (const auto unit = plain_unit(wanted, lower)) return unit;
    const std::size_t letters = wanted.size() - letters_of_zero(lower);
    if (letters == wanted.size()) return std::nullopt;
    const auto unit = plain_unit(without_brackets(std::string_view(wanted).substr(0, letters)),
                                 without_brackets(std::string_view(lower).substr(0, letters)));
    return unit && unit->dimension == Dimension::pressure ? unit : std::nullopt;
}

}  // namespace evenstroke
