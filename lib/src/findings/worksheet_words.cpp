#include "worksheet_words.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <set>
#include <string>
#include <utility>

#include "evenstroke/engine.hpp"
#include "read/cells.hpp"
#include "worksheet_fields.hpp"

namespace evenstroke::findings {

namespace {

std::vector<std::string_view> parts(std::string_view text, char separator) {
    std::vector<std::string_view> found;
    while (true) {
        const std::size_t end = std::min(text.find(separator), text.size());
        found.push_back(reading::trim(text.substr(0, end)));
        if (end == text.size()) return found;
        text.remove_prefix(end + 1);
    }
}

template <class Value>
using Words = std::initializer_list<std::pair<const char*, Value>>;

template <class Value>
Value look_up(std::string_view text, const Words<Value>& words) {
    const std::string wanted = reading::lower(reading::trim(text));
    std::string known;
    for (const auto& [word, value] : words) {
        if (wanted == word) return value;
        known += (known.empty() ? "" : ", ") + std::string(word);
    }
    throw BadEntry{fmt::format("\"{}\" is not a word known here", text), "write one of: " + known};
}

}  // namespace

std::vector<AirPath> air_paths(std::string_view text) {
    std::vector<AirPath> heard;
    if (reading::lower(reading::trim(text)) == "none") return heard;
    for (const auto part : parts(text, '+')) {
        const auto path = look_up<AirPath>(part, {{"intake", AirPath::intake},
                                                  {"throttle body", AirPath::intake},
                                                  {"exhaust", AirPath::exhaust},
                                                  {"tailpipe", AirPath::exhaust},
                                                  {"crankcase", AirPath::crankcase},
                                                  {"oil filler", AirPath::crankcase},
                                                  {"dipstick", AirPath::crankcase},
                                                  {"coolant", AirPath::coolant},
                                                  {"bubbles", AirPath::coolant},
                                                  {"neighbour", AirPath::neighbour},
                                                  {"plug hole", AirPath::neighbour}});
        if (std::find(heard.begin(), heard.end(), path) == heard.end()) heard.push_back(path);
    }
    return heard;
}

Fuel fuel_word(std::string_view text) {
    return look_up<Fuel>(text, {{"spark", Fuel::spark}, {"diesel", Fuel::diesel}});
}

Needle needle_word(std::string_view text) {
    return look_up<Needle>(
        text,
        {{"steady", Needle::steady}, {"fluctuating", Needle::fluctuating}, {"falling", Needle::falling}});
}

OilGauge oil_gauge_word(std::string_view text) {
    return look_up<OilGauge>(text, {{"mechanical", OilGauge::mechanical}, {"sender", OilGauge::sender}});
}

bool yes_no(std::string_view text) {
    return look_up<bool>(text, {{"yes", true}, {"no", false}});
}

std::vector<std::vector<int>> block_rows(std::string_view text) {
    std::vector<std::vector<int>> rows;
    std::set<int> seen;
    for (const auto row : parts(text, '/')) {
        rows.emplace_back();
        for (const auto part : parts(row, '-')) {
            int cylinder = 0;
            const auto parsed = std::from_chars(part.data(), part.data() + part.size(), cylinder);
            const bool whole = parsed.ec == std::errc{} && parsed.ptr == part.data() + part.size();
            if (!whole || cylinder < 1 || cylinder > max_cylinders || !seen.insert(cylinder).second)
                throw BadEntry{
                    fmt::format("\"{}\" does not give rows of cylinders", text),
                    "write each cylinder once, as it stands in the block: 1-2-3-4, or 1-3-5/2-4-6"};
            rows.back().push_back(cylinder);
        }
    }
    return rows;
}

}  // namespace evenstroke::findings
