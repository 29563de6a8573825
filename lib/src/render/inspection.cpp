// What a file holds, for `inspect`.
#include <fmt/core.h>

#include "evenstroke/render.hpp"
#include "text.hpp"
#include "values/words.hpp"

namespace evenstroke {

namespace {

using namespace render;

std::string with_unit(double value, const Channel& channel) {
    return fmt::format("{}{}{}", plain(value, 4), channel.unit.empty() ? "" : " ", printable(channel.unit));
}

std::string faults(const Channel& channel) {
    std::string text;
    if (!channel.gaps.empty()) text += "; " + counted(channel.gaps.size(), "gaps");
    if (!channel.clipped.empty()) text += "; clipped " + counted(channel.clipped.size(), "times");
    return text;
}

std::string extent(const Channel& channel, const ChannelLook& look) {
    if (!channel.edges.empty()) return counted(channel.edges.size(), "edges");
    return fmt::format("{} to {}, mean {}{}", with_unit(look.lowest, channel),
                       with_unit(look.highest, channel), with_unit(look.mean, channel), faults(channel));
}

std::string overview(const Recording& recording) {
    std::string text = printable(recording.format.empty() ? "recording" : recording.format);
    text += "; " + counted(recording.channels.size(), "channels");
    if (recording.recorded_rate_hz > 0) text += "; " + rate_words(recording.recorded_rate_hz);
    if (recording.rate_hz > 0 && recording.rate_hz < recording.recorded_rate_hz)
        text += " (reduced to " + rate_words(recording.rate_hz) + ")";
    text += fmt::format("; {} s from {} s", plain(recording.duration_s, 4), plain(recording.start_s, 4));
    if (recording.scaled_audio) text += "; values are fractions of full scale";
    return text + ".";
}

}  // namespace

std::string inspection_text(const Recording& recording, const std::vector<ChannelLook>& looks,
                            const TextStyle& style) {
    const int columns = usable_columns(style.columns);
    std::string out = wrap(printable(recording.path == "-" ? "standard input" : recording.path), columns);
    out += wrap(overview(recording), columns, "  ");
    for (std::size_t i = 0; i < recording.channels.size(); ++i) {
        const auto& channel = recording.channels[i];
        const ChannelLook look = i < looks.size() ? looks[i] : ChannelLook{};
        const std::string lead = fmt::format("{:>3}  ", i + 1);
        out += '\n' +
               wrap(fmt::format("\"{}\": {}", printable(channel.name), name(look.quantity)), columns, lead);
        const std::string indent(lead.size(), ' ');
        if (!look.reason.empty()) out += wrap(printable(look.reason), columns, indent);
        out += wrap(extent(channel, look), columns, indent);
    }
    if (!recording.notices.empty()) out += "\nNotices\n";
    for (const auto& notice : recording.notices) out += wrap(sentence(printable(notice.text)), columns, "- ");
    return out;
}

}  // namespace evenstroke
