#include "read/interval_line.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "evenstroke/error.hpp"
#include "evenstroke/units.hpp"

namespace evenstroke::reading {

namespace {

/// Keys that name the samples, wherever they stand in it.
constexpr std::array interval_words{"sample interval",
                                    "sampling interval",
                                    "sampleinterval",
                                    "sample period",
                                    "sampling period",
                                    "sample time",
                                    "sampling time",
                                    "time step",
                                    "time interval",
                                    "time increment",
                                    "log interval",
                                    "logging interval",
                                    "record interval",
                                    "recording interval",
                                    "scan interval",
                                    "x increment",
                                    "xincrement",
                                    "xincr",
                                    "xinc",
                                    "delta t",
                                    "delta time",
                                    "abtastintervall",
                                    "abtastzeit",
                                    "messintervall",
                                    "zeitintervall",
                                    "intervalle d'\xC3\xA9"
                                    "chantillonnage",
                                    "p\xC3\xA9riode d'\xC3\xA9"
                                    "chantillonnage"};
constexpr std::array rate_words{"sample rate",
                                "sampling rate",
                                "samplerate",
                                "sampling frequency",
                                "sample frequency",
                                "samples/s",
                                "samples/sec",
                                "samples/second",
                                "samples per second",
                                "scan rate",
                                "acquisition rate",
                                "log rate",
                                "logging rate",
                                "record rate",
                                "recording rate",
                                "abtastrate",
                                "abtastfrequenz",
                                "fr\xC3\xA9quence d'\xC3\xA9"
                                "chantillonnage",
                                "taux d'\xC3\xA9"
                                "chantillonnage",
                                "frequenza di campionamento",
                                "frecuencia de muestreo"};
/// Keys that speak of samples only when they are the whole key: many things have a rate.
constexpr std::array bare_interval_words{"interval", "increment", "intervall", "intervalle", "dt"};
constexpr std::array bare_rate_words{"rate", "fs"};
/// Words that speak of samples inside a longer key only when the value carries its unit: "Data rate: 2 kHz".
constexpr std::array loose_interval_words{"interval", "intervall", "intervalle"};
constexpr std::array loose_rate_words{"rate", "messrate"};
/// What of an instrument has a rate or an interval that is not its samples', or only their limit.
constexpr std::array other_words{"max",    "maximum", "min",  "minimum", "display", "screen",
                                 "update", "refresh", "baud", "frame",   "trigger"};

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
    static constexpr std::array known{"hz",  "s/s",         "sa/s",           "sps",  "samples/s",
                                      "1/s", "samples/sec", "samples/second", "hertz"};
    if (factor > 0 && any_equal(known, text)) return factor;
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

/// The key as the words above are written: without brackets or a remark's mark, underscores and hyphens as
/// blanks.
std::string plain_key(std::string_view key) {
    key.remove_prefix(std::min(key.find_first_not_of("#%/ "), key.size()));
    std::string text = lower(trim(key.substr(0, key.find_first_of("(["))));
    std::replace(text.begin(), text.end(), '_', ' ');
    std::replace(text.begin(), text.end(), '-', ' ');
    constexpr std::string_view apostrophe = "\xE2\x80\x99";
    if (const auto at = text.find(apostrophe); at != std::string::npos)
        text.replace(at, apostrophe.size(), "'");
    return text;
}

/// The unit that ends a key, "ms" of "sample_interval_ms": behind another word, and of a rate or of time.
std::string_view ending_unit(std::string_view key) {
    const std::size_t joint = key.find_last_of(" _");
    if (joint == std::string_view::npos) return {};
    const std::string_view word = key.substr(joint + 1);
    const auto unit = find_unit(word);
    return rate_factor(word) || (unit && unit->dimension == Dimension::time) ? word : std::string_view();
}

enum class KeyKind { none, interval, rate };

struct Key {
    KeyKind kind = KeyKind::none;
    bool names_samples = false;
    bool needs_unit = false;  ///< only a unit shows that this is a rate or an interval at all
    std::string_view unit;    ///< that the key ends with
};

Key key_of(std::string_view text) {
    const std::string whole = plain_key(text);
    if (any_inside(other_words, whole)) return {};
    const std::string_view unit = ending_unit(text);
    std::string key = plain_key(text.substr(0, text.size() - unit.size() - (unit.empty() ? 0 : 1)));
    if (!unit.empty() && key.ends_with(" in")) key = trim(std::string_view(key).substr(0, key.size() - 3));
    // "Samples per second": what could be a unit of time is a part of the name.
    const std::string_view rate_unit = rate_factor(unit) ? unit : std::string_view();
    if (any_inside(rate_words, whole)) return {KeyKind::rate, true, false, rate_unit};
    if (any_inside(interval_words, whole)) return {KeyKind::interval, true, false, unit};
    if (any_equal(bare_rate_words, key)) return {KeyKind::rate, false, false, unit};
    if (any_equal(bare_interval_words, key)) return {KeyKind::interval, false, false, unit};
    if (any_inside(loose_rate_words, key)) return {KeyKind::rate, false, true, rate_unit};
    if (any_inside(loose_interval_words, key)) return {KeyKind::interval, false, true, unit};
    return {};
}

/// "2,000 Hz" where the mark neither marks decimals nor parts cells here: without it.
std::string without_thousands(std::string_view value, char mark) {
    std::string text(value);
    std::size_t at = text.find(mark);
    while (at != std::string::npos && at > 0 && is_digit(text[at - 1])) {
        const std::size_t digits = text.find_first_not_of("0123456789", at + 1);
        if ((digits == std::string::npos ? text.size() : digits) != at + 4) break;
        text.erase(at, 1);
        at = text.find(mark, at);
    }
    return text;
}

/// True when a comma stands between the digits that the text begins with.
bool comma_in_number(std::string_view text) {
    const std::size_t at = text.find_first_not_of("+-0123456789");
    return at != std::string_view::npos && at > 0 && text[at] == ',' && is_digit(text[at - 1]) &&
           at + 1 < text.size() && is_digit(text[at + 1]);
}

/// "1,5", "1,500": few digits before a comma, and few behind it. "1,2000" and "2000,5" are more likely two
/// cells.
bool like_decimals(std::string_view text) {
    constexpr std::size_t most_before = 3, most_behind = 3;
    if (!comma_in_number(text)) return false;
    const std::size_t comma = text.find(',');
    const std::size_t end = std::min(text.find_first_not_of("0123456789", comma + 1), text.size());
    return comma <= most_before && end - comma - 1 <= most_behind;
}

bool of_rate_or_time(std::string_view unit) {
    const auto known = find_unit(unit);
    return rate_factor(unit) || (known && known->dimension == Dimension::time);
}

/// "1,5 kHz" above whole numbers, which show no decimal mark: the comma is one where `joint` shows that cells
/// are parted otherwise, or a unit that the number goes on behind it. Empty when it may be either ("2000,4").
std::optional<Measure> comma_measure(std::string_view text, char joint) {
    const auto measure = parse_measure(text.substr(0, text.find_first_of(";\t")), ',');
    if (!measure) return std::nullopt;
    const bool other_joint = joint == ';' || joint == '\t';
    return of_rate_or_time(measure->unit) || (other_joint && measure->unit.empty()) ? measure : std::nullopt;
}

/// True when every channel's cell behind the key holds a number, and they differ.
bool channels_differ(std::string_view line, const RowBlock& block) {
    std::vector<std::string_view> cells;
    split(line, block.dialect.delimiter, cells);
    if (cells.size() < 3 || (cells.size() != block.columns && cells.size() != block.columns + 1))
        return false;
    const auto value = [&](std::string_view cell) { return parse_cell(cell, block.dialect.decimal); };
    const double first = value(cells[1]).value;
    bool differ = false;
    for (std::size_t c = 1; c < cells.size(); ++c) {
        const Cell cell = value(cells[c]);
        if (cell.kind != CellKind::number) return false;
        differ = differ || cell.value != first;
    }
    return differ;
}

/// A line's key and the text behind it.
struct KeyedLine {
    std::string_view key_text;
    char joint = ' ';
    std::string_view behind;
};

/// Where the number begins in "Sample rate 1,5 kHz"; not in "Sample rate CH1,2000 Hz", whose comma parts
/// cells, nor behind a word for a channel, whose number the first is.
std::optional<std::size_t> number_behind_blank(std::string_view line) {
    const std::size_t at = line.find_first_of("0123456789");
    if (at == std::string_view::npos || at == 0 || line[at - 1] != ' ' || !like_decimals(line.substr(at)))
        return std::nullopt;
    const std::string key = lower(trim(line.substr(0, at)));
    for (const char* channel : {"ch", "ch.", "chan", "channel", "kanal"})
        if (key.ends_with(std::string(" ") + channel)) return std::nullopt;
    return at;
}

std::optional<KeyedLine> keyed_line(std::string_view line) {
    std::size_t key_end = line.find_first_of(",;\t:=");
    char joint = ' ';
    const bool at_comma = key_end != std::string_view::npos && line[key_end] == ',';
    if (const auto number =
            at_comma ? number_behind_blank(line.substr(0, line.find_first_of(";\t:="))) : std::nullopt;
        number && *number < key_end)
        key_end = *number;
    else if (key_end == std::string_view::npos)
        key_end = line.find_first_of("0123456789");  // "Sample rate 2kHz"
    else
        joint = line[key_end++];
    if (key_end == std::string_view::npos) return std::nullopt;
    const std::string_view key_text = strip_quotes(line.substr(0, key_end - (joint == ' ' ? 0 : 1)));
    std::string_view behind = trim(line.substr(key_end));
    while (!behind.empty() && std::string_view(",;\t:=").find(behind.front()) != std::string_view::npos)
        behind = trim(behind.substr(1));
    return KeyedLine{key_text, joint, behind};
}

}  // namespace

std::optional<IntervalLine> interval_line(std::string_view line, char decimal) {
    const auto keyed = keyed_line(line);
    if (!keyed) return std::nullopt;
    const Key key = key_of(keyed->key_text);
    if (key.kind == KeyKind::none) return std::nullopt;
    const char mark = decimal == ',' ? '.' : ',';
    const std::string rest =
        keyed->joint == mark ? std::string(keyed->behind) : without_thousands(keyed->behind, mark);
    const std::size_t value_end = decimal == ',' ? rest.find_first_of(";\t") : rest.find_first_of(",;\t");
    const auto measure = decimal == '.' && keyed->joint != ',' && comma_in_number(rest)
                             ? comma_measure(rest, keyed->joint)
                             : parse_measure(std::string_view(rest).substr(0, value_end), decimal);
    if (!measure) return std::nullopt;
    std::string_view unit = measure->unit;
    if (unit.empty()) unit = bracketed(keyed->key_text);
    if (unit.empty()) unit = key.unit;
    if (unit.empty() && value_end != std::string::npos) {
        const std::string_view next = std::string_view(rest).substr(value_end + 1);
        const std::string_view beside = strip_quotes(next.substr(0, next.find_first_of(",;\t")));
        if (rate_factor(beside) || find_unit(beside)) unit = beside;
        // "1,5 kHz" in a line that commas part may be one number or two.
        const auto more = parse_measure(beside, decimal);
        if (more && of_rate_or_time(more->unit) && rest[value_end] == ',' && like_decimals(rest))
            return std::nullopt;
    }
    if (key.needs_unit && unit.empty()) return std::nullopt;
    const auto interval_s = interval_from(measure->number.value, unit, key.kind == KeyKind::rate);
    if (!interval_s) return std::nullopt;
    return IntervalLine{*interval_s, key.names_samples};
}

std::optional<SettingCells> setting_cells(const std::vector<HeadLine>& lines, const RowBlock& block) {
    std::size_t below = block.first_row;
    while (below > 0 && trim(lines[below - 1].text).empty()) --below;
    if (below < 2) return std::nullopt;
    const std::size_t titles_at = below - 2;
    const std::size_t columns = columns_in_use(lines, block);
    std::vector<std::string_view> titles, values;
    split(lines[titles_at].text, block.dialect.delimiter, titles);
    split(lines[titles_at + 1].text, block.dialect.delimiter, values);
    for (std::size_t c = columns; c < std::min(titles.size(), values.size()); ++c) {
        const Key key = key_of(strip_quotes(titles[c]));
        const Cell value = parse_cell(values[c], block.dialect.decimal);
        if (key.kind == KeyKind::none || key.needs_unit || value.kind != CellKind::number) continue;
        // "Interval" alone may be any; beside a start, with a unit or as the samples' it is theirs.
        const bool start = c > columns && lower(trim(strip_quotes(titles[c - 1]))) == "start";
        const std::string_view beside = bracketed(titles[c]);
        if (!start && beside.empty() && key.unit.empty() && !key.names_samples) continue;
        const auto interval_s =
            interval_from(value.value, beside.empty() ? key.unit : beside, key.kind == KeyKind::rate);
        if (interval_s && *interval_s > 0) return SettingCells{titles_at, start ? c - 1 : c, *interval_s};
    }
    return std::nullopt;
}

std::optional<FoundInterval> find_interval(const std::vector<HeadLine>& lines, const RowBlock& block,
                                           const std::string& name) {
    constexpr double same_interval_ratio = 0.05;  // a rounded rate beside its interval
    std::optional<FoundInterval> found;
    bool names_samples = false;
    for (std::size_t i = 0; i < block.first_row; ++i) {
        const auto said = interval_line(lines[i].text, block.dialect.decimal);
        if (!said || (found && names_samples && !said->names_samples)) continue;
        if (found && names_samples == said->names_samples) {
            if (!(std::abs(said->interval_s / found->interval_s - 1) < same_interval_ratio) && !found->doubt)
                found->doubt =
                    fmt::format("lines {} and {} give different sample rates", found->line, lines[i].line);
            continue;
        }
        if (!(said->interval_s > 0))
            throw Error(ErrorCode::malformed, name + ":" + std::to_string(lines[i].line),
                        "the sample rate or interval is not above 0",
                        "correct this line, or remove it and give --rate HZ");
        found = FoundInterval{.interval_s = said->interval_s, .line = lines[i].line, .doubt = {}};
        names_samples = said->names_samples;
        if (channels_differ(lines[i].text, block))
            found->doubt = fmt::format("line {} gives the channels different sample rates", found->line);
    }
    if (!found)
        if (const auto cells = setting_cells(lines, block))
            found = FoundInterval{cells->interval_s, lines[cells->titles_at + 1].line, {}};
    return found;
}

std::optional<std::size_t> unused_interval_line(const std::vector<HeadLine>& lines, const RowBlock& block) {
    for (std::size_t i = 0; i < block.first_row; ++i) {
        const auto keyed = keyed_line(lines[i].text);
        if (keyed && key_of(keyed->key_text).kind != KeyKind::none &&
            parse_measure(keyed->behind, block.dialect.decimal))
            return lines[i].line;
    }
    return std::nullopt;
}

}  // namespace evenstroke::reading
