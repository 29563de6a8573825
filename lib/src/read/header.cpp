#include "read/header.hpp"

#include <algorithm>
#include <array>

#include "evenstroke/units.hpp"
#include "read/bytes.hpp"

namespace evenstroke::reading {

namespace {

constexpr std::array time_words{"time",       "zeit",      "temps",        "tiempo",       "tempo",
                                "tid",        "tijd",      "zeitstempel",  "uhrzeit",      "datum/uhrzeit",
                                "epoch",      "unix time", "seconds",      "sec",          "timestamp",
                                "time stamp", "x-axis",    "x axis",       "date time",    "date/time",
                                "datetime",   "elapsed",   "elapsed time", "relative time"};
/// Temperatures, positions and dates are titled so too.
constexpr std::array weak_time_words{"t", "x", "date"};
constexpr std::array index_words{"sample",  "samples", "index", "no",  "no.",    "nr",    "nr.",
                                 "n",       "#",       "point", "row", "number", "count", "sample number",
                                 "sequence"};

bool is_voice_letter_channel(const std::string& name) {
    static constexpr std::array words{"ch", "chan", "channel", "probe", "input", "kanal", "analog"};
    return any_equal(words, lower(name));
}

/// "Clamp 10 mV", as it stands before "/A": the ratio of a probe, not the unit of what was recorded.
bool ends_in_amount(const std::string& name) {
    const std::size_t digit = name.find_last_of("0123456789");
    return digit != std::string::npos && find_unit(trim(std::string_view(name).substr(digit + 1)));
}

/// A blank alone joins only longer units: "Channel A" is a name. "Clamp min" and "clamp_in" are names too:
/// the least of an envelope, an inlet.
bool may_be_joined(std::string_view joint, const std::string& name, std::string_view unit) {
    if (joint == " " && unit.size() == 1) return false;
    static constexpr std::array words{"min", "in"};
    if ((joint == " " || joint == "_") && any_equal(words, lower(unit)) && !names_time(name)) return false;
    return joint.find('/') == std::string_view::npos || !ends_in_amount(name);
}

}  // namespace

ColumnTitle split_title(const std::string& title) {
    std::string_view text = trim(title);
    while (text.ends_with(':')) text = trim(text.substr(0, text.size() - 1));  // "Time(s):"
    constexpr std::string_view opening = "([{<", closing = ")]}>";
    if (const std::size_t kind = text.size() > 2 ? closing.find(text.back()) : std::string_view::npos;
        kind != std::string_view::npos) {
        const char open = opening[kind];
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
    if (const auto unit = find_unit(text);
        unit && unit->dimension == Dimension::time && may_be_joined(" ", "", text))
        return {std::string(text), std::string(text)};  // a column titled "ms"
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
    constexpr int time_unit = 2;
    return (any_equal(time_words, std::string(unnumbered)) ? time_word_rank
            : any_equal(weak_time_words, word)             ? weak_time_rank
                                                           : 0) +
           (unit ? time_unit : 0);
}

std::string unknown_time_unit(const ColumnTitle& title) {
    if (!title.unit.empty())
        return time_rank(title) > 0 && !find_unit(title.unit) ? title.unit : std::string();
    constexpr std::string_view brackets = "([{<";
    const std::size_t at = title.name.find_first_of(brackets);
    if (at == std::string::npos || time_rank({title.name.substr(0, at), ""}) < time_word_rank) return {};
    return title.name.substr(at + 1, title.name.size() - at - 2);
}

bool names_time(const std::string& name) {
    return time_rank({name, ""}) > 0;
}

bool names_index(const std::string& name) {
    return any_equal(index_words, lower(trim(name)));
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
