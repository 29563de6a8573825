#include "evenstroke/render.hpp"

namespace evenstroke {
std::string summary_text(const Recording&, const Analysis&, const TextStyle&) {
    return {};
}
std::string inspection_text(const Recording&, const std::vector<ChannelLook>&, const TextStyle&) {
    return {};
}
std::string inspection_json(const Recording&, const std::vector<ChannelLook>&) {
    return {};
}
std::string crank_json(const Recording&, const Analysis&) {
    return {};
}
std::string crank_json_line(const Recording&, const Analysis&) {
    return {};
}
std::string events_csv(const Analysis&) {
    return {};
}
std::string cycles_csv(const Analysis&) {
    return {};
}
std::string wave_csv(const Analysis&) {
    return {};
}
}  // namespace evenstroke
