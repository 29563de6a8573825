#include "trace/wheel_edges.hpp"

#include "signal/edges.hpp"

namespace evenstroke {

std::vector<Edge> wheel_edges(const Trace& trace) {
    if (!trace.edges.empty()) return signal::without_bounce(trace.edges);
    if (trace.values.empty() || !(trace.rate_hz > 0)) return {};
    return signal::find_edges(trace.values, trace.rate_hz, trace.start_s);
}

std::span<const Edge> wheel_edges(const Trace& trace, std::vector<Edge>& room) {
    if (!trace.edges.empty() && !signal::bounces(trace.edges)) return trace.edges;
    room = wheel_edges(trace);
    return room;
}

std::vector<Edge> wheel_edges(const Recording& recording, const Channel& channel) {
    if (!channel.edges.empty()) return signal::without_bounce(channel.edges);
    if (channel.values.empty() || !(recording.rate_hz > 0)) return {};
    return signal::find_edges(channel.values, recording.rate_hz, recording.start_s);
}

}  // namespace evenstroke
