#include "read/header.hpp"

#include <algorithm>
#include <array>

#include "evenstroke/units.hpp"
#include "read/bytes.hpp"

namespace evenstroke::reading {

namespace {

constexpr std::array time_words{"time",    "zeit",         "temps",        "tiempo",    "tempo",
                                "tid",     "seconds",      "sec",          "timestamp", "time stamp",
                                "x-axis",  "x axis",       "date time",    "date/time", "datetime",
                                "elapsed", "elapsed time", "relative time"};
/// Temperatures, positions and dates are titled so too.
constexpr std::array weak_time_words{"t", "x", "date"};
constexpr std::array index_words{"sample", "samples", "index", "no",  "no.",    "nr",    "nr.",
                                 "n",      "#",       "point", "row", "number", "count", "sample number"};
constexpr std::array interval_words{
    "interval",    "increment", "delta t", "delta time", "sample period",  "sampling period",
    "sample time", "time step", "dt",      "intervall",  "abtastintervall"};
constexpr std::array rate_words{
    "sample rate", "sampling rate",      "sampling frequency", "sample frequency", "samples/s",
    "samplerate",  "samples per second", "abtastrate",         "abtastfrequenz",   "rate",
    "fs"};

template <typename Words>
bool any_equal(const Words& words, const std::string& text) {
    return std::any_of(words.begin(), words.end(), [&](const char* word) { return text == word; });
}

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) >= 0x80;
}

/// True when one of the words stands in the text, not inside another word.
template <typename Words>
bool any_inside(const Words& words, const std::string& text) {
    for (const std::string_view word : words)
        for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) {
            const bool free_before = at == 0 || !is_letter(text[at - 1]);
            const std::size_t end = at + word.size();
            const bool free_after = end == text.size() || !is_letter(text[end]);
            if (free_before && free_after) return true;
        }
    return false;
}

/// Hertz for a rate unit: "Hz", "kS/s", "MSa/s" …
std::optional<double> rate_factor(std::string_view unit) {
    std::string text = lower(trim(unit));
    const bool mega = trim(unit).starts_with('M');
    double factor = 1;
    if (text.size() > 1 && (text[0] == 'k' || text[0] == 'm') && text != "ms") {
        factor = text[0] == 'k' ? 1e3 : mega ? 1e6 : 0;
        text.erase(0, 1);
    }
    static constexpr std::array known{"hz", "s/s", "sa/s", "sps", "samples/s", "1/s", "samples/sec", "hertz"};
    if (factor > 0 && any_equal(known, text)) return factor;
    return std::nullopt;
}

/// A number with, perhaps, a unit behind it: "0.0001", "10 kHz".
struct Measure {
    double value;
    std::string_view unit;
};

std::optional<Measure> parse_measure(std::string_view cell, char decimal) {
    cell = strip_quotes(cell);
    const std::size_t end = cell.find_first_not_of("+-0123456789.,eE");
    std::size_t length = end == std::string_view::npos ? cell.size() : end;
    while (length > 0) {
        const Cell number = parse_cell(cell.substr(0, length), decimal);
        if (number.kind == CellKind::number) return Measure{number.value, trim(cell.substr(length))};
        --length;  // "5E" of "5Eq": give the letter back
    }
    return std::nullopt;
}

std::string_view bracketed(std::string_view text) {
    const std::size_t open = text.find_first_of("([");
    const std::size_t close = text.find_last_of(")]");
    if (open == std::string_view::npos || close == std::string_view::npos || close < open) return {};
    return trim(text.substr(open + 1, close - open - 1));
}

std::optional<double> interval_from(double value, std::string_view unit, bool is_rate) {
    if (const auto hertz = rate_factor(unit)) return value > 0 ? 1 / (value * *hertz) : 0;
    if (is_rate) {
        if (!unit.empty()) return std::nullopt;
        return value > 0 ? 1 / value : 0;
    }
    const auto known = find_unit(unit);
    if (!unit.empty() && (!known || known->dimension != Dimension::time)) return std::nullopt;
    return value > 0 ? value * (known ? known->factor : 1) : 0;
}

bool is_voice_letter_channel(const std::string& name) {
    static constexpr std::array words{"ch", "chan", "channel", "probe", "input", "kanal", "analog"};
    return any_equal(words, lower(name));
}

/// A blank alone joins only longer units: "Channel A" is a name. "Clamp min" and "clamp_in" are names too:
/// the least of an envelope, an inlet.
bool may_be_joined(std::string_view joint, const std::string& name, std::string_view unit) {
    if (joint == " " && unit.size() == 1) return false;
    static constexpr std::array words{"min", "in"};
    return (joint != " " && joint != "_") || !any_equal(words, lower(unit)) || names_time(name);
}

}  // namespace

ColumnTitle split_title(const std::string& title) {
    const std::string_view text = trim(title);
    if (text.size() > 2 && (text.back() == ')' || text.back() == ']')) {
        const char open = text.back() == ')' ? '(' : '[';
        const std::size_t at = text.rfind(open);
        if (at != std::string_view::npos) {
            const std::string_view unit = trim(text.substr(at + 1, text.size() - at - 2));
            if (find_unit(unit) || (open == '[' && !unit.empty()))
                return {std::string(trim(text.substr(0, at))), std::string(unit)};
        }
    }
    for (const std::string_view joint : {" / ", "/", " in ", ", ", " "}) {
        const std::size_t at = text.rfind(joint);
        if (at == std::string_view::npos || at == 0) continue;
        const std::string_view unit = trim(text.substr(at + joint.size()));
        const std::string name(trim(text.substr(0, at)));
        if (find_unit(unit) && !is_voice_letter_channel(name) && may_be_joined(joint, name, unit))
            return {name, std::string(unit)};
    }
    const std::size_t underscore = text.rfind('_');
    if (underscore != std::string_view::npos && underscore > 0) {
        const std::string_view unit = text.substr(underscore + 1);
        const std::string name(text.substr(0, underscore));
        if (find_unit(unit) && !is_voice_letter_channel(name) && may_be_joined("_", name, unit)) {
            if (names_time(name)) return {name, std::string(unit)};
            return {std::string(text), std::string(unit)};
        }
    }
    return {std::string(text), ""};
}

std::vector<std::string> header_cells(std::string_view record, char delimiter) {
    std::vector<std::string_view> raw;
    split(record, delimiter, raw);
    std::vector<std::string> cells;
    for (const std::string_view cell : raw) {
        const std::string text = to_utf8(unquote(cell));
        const bool continues =
            delimiter == ' ' && !cells.empty() && (text.starts_with('(') || text.starts_with('['));
        if (continues)
            cells.back() += " " + text;
        else
            cells.push_back(text);
    }
    return cells;
}

bool is_unit_row(const std::vector<std::string>& cells) {
    bool any = false;
    for (const std::string& cell : cells) {
        if (trim(cell).empty()) continue;
        if (!find_unit(cell)) {
            const bool square = cell.size() > 2 && cell.front() == '[' && cell.back() == ']';
            const bool round = cell.size() > 2 && cell.front() == '(' && cell.back() == ')';
            if (!square && !round) return false;
        }
        any = true;
    }
    return any;
}

int time_rank(const ColumnTitle& title) {
    const auto unit = find_unit(title.unit);
    if (unit && unit->dimension != Dimension::time) return 0;
    const std::string word = lower(trim(title.name));
    const std::string_view unnumbered =
        std::string_view(word).substr(0, word.find_last_not_of(" _#0123456789") + 1);
    constexpr int weak_word = 1, time_unit = 2;
    return (any_equal(time_words, std::string(unnumbered)) ? time_word_rank
            : any_equal(weak_time_words, word)             ? weak_word
                                                           : 0) +
           (unit ? time_unit : 0);
}

bool names_time(const std::string& name) {
    return time_rank({name, ""}) > 0;
}

bool names_index(const std::string& name) {
    return any_equal(index_words, lower(trim(name)));
}

std::optional<double> sample_interval_s(std::string_view line, char decimal) {
    const std::size_t key_end = line.find_first_of(",;\t:=");
    if (key_end == std::string_view::npos) return std::nullopt;
    const std::string_view key_text = strip_quotes(line.substr(0, key_end));
    const std::string key = lower(key_text);
    const bool is_rate = any_inside(rate_words, key);
    if (!is_rate && !any_inside(interval_words, key)) return std::nullopt;
    std::string_view rest = trim(line.substr(key_end + 1));
    while (!rest.empty() && (rest.front() == ',' || rest.front() == ';' || rest.front() == '=' ||
                             rest.front() == ':' || rest.front() == '\t'))
        rest = trim(rest.substr(1));
    const std::size_t value_end = decimal == ',' ? rest.find_first_of(";\t") : rest.find_first_of(",;\t");
    const auto measure = parse_measure(rest.substr(0, value_end), decimal);
    if (!measure) return std::nullopt;
    std::string_view unit = measure->unit;
    if (unit.empty()) unit = bracketed(key_text);
    if (unit.empty() && value_end != std::string_view::npos) {
        const std::string_view next = rest.substr(value_end + 1);
        const std::string_view beside = strip_quotes(next.substr(0, next.find_first_of(",;\t")));
        if (rate_factor(beside) || find_unit(beside)) unit = beside;
    }
    return interval_from(measure->value, unit, is_rate);
}

std::string to_utf8(std::string_view text) {
    bool valid = true;
    for (std::size_t i = 0; i < text.size() && valid;) {
        const auto lead = static_cast<unsigned char>(text[i]);
        const std::size_t length = lead < 0x80                   ? 1
                                   : lead >= 0xC2 && lead < 0xE0 ? 2
                                   : lead >= 0xE0 && lead < 0xF0 ? 3
                                   : lead >= 0xF0 && lead < 0xF5 ? 4
                                                                 : 0;
        valid = length > 0 && i + length <= text.size();
        for (std::size_t k = 1; valid && k < length; ++k)
            valid = (static_cast<unsigned char>(text[i + k]) & 0xC0U) == 0x80U;
        i += length;
    }
    std::string result;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < 0x20 || byte == 0x7F)
            result.push_back(' ');
        else if (valid)
            result.push_back(c);
        else
            append_utf8(result, byte);
    }
    return result;
}

}  // namespace evenstroke::reading
