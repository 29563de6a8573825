#include "evenstroke/recording.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>

namespace evenstroke {

namespace {

bool same_ignoring_case(const std::string& left, const std::string& right) {
    return std::equal(left.begin(), left.end(), right.begin(), right.end(),
                      [](unsigned char a, unsigned char b) { return std::tolower(a) == std::tolower(b); });
}

}  // namespace

std::size_t find_channel(const Recording& recording, const std::string& wanted) {
    const auto& channels = recording.channels;
    for (std::size_t i = 0; i < channels.size(); ++i)
        if (same_ignoring_case(channels[i].name, wanted)) return i;
    std::string list;
    for (std::size_t i = 0; i < channels.size(); ++i)
        list += (i ? ", " : "") + std::to_string(i + 1) + " \"" + channels[i].name + "\"";
    for (const std::string& name : recording.empty_channels)
        if (same_ignoring_case(name, wanted))
            throw Error(ErrorCode::unusable, recording.path + ", channel \"" + name + "\"",
                        "this channel holds no numbers: every cell is empty, NaN or over-range",
                        "check its probe, range and export, and record again; or choose one of: " + list);
    std::size_t number = 0;
    const auto parsed = std::from_chars(wanted.data(), wanted.data() + wanted.size(), number);
    if (parsed.ec == std::errc{} && parsed.ptr == wanted.data() + wanted.size() && number >= 1 &&
        number <= channels.size())
        return number - 1;
    throw Error(ErrorCode::no_such_channel, recording.path, "there is no channel \"" + wanted + "\"",
                "choose one of: " + list);
}

}  // namespace evenstroke
