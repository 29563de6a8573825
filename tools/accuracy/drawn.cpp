#include "drawn.hpp"

namespace accuracy {

using namespace evenstroke;

namespace {

constexpr double cam_lead_deg = 60;  // where the synth's cam rises (docs/synth.md)

}  // namespace

bool by_wheel(const std::string& mode) {
    return mode.starts_with("wheel");
}

SynthOptions drawn_for(const std::string& mode, const std::string& family, std::uint64_t seed) {
    SynthOptions drawn = draw_engine(seed, family);
    drawn.chain.sync = SyncKind::once_per_cycle;
    if (by_wheel(mode)) {
        drawn.chain.wheel = WheelKind::edges;
        drawn.chain.pattern = parse_wheel("60-2");
        drawn.chain.cam = mode == "wheel-cam";
    }
    return drawn;
}

AnalyseOptions options_for(const SynthOptions& drawn, const std::string& mode) {
    AnalyseOptions options;
    options.layout = drawn.engine.layout;
    options.layout.order.clear();
    if (by_wheel(mode)) {
        options.trace.channel = "Wheel";
        options.trace.quantity = Quantity::wheel;
        options.reference.wheel = drawn.chain.pattern;
        if (mode == "wheel-lead") options.reference.wheel_lead_deg = drawn.chain.wheel_lead_deg;
        if (mode == "wheel-cam") {
            options.reference.sync = "Cam";
            options.reference.sync_lead_deg = cam_lead_deg;
        }
        return options;
    }
    options.trace.channel = mode == "voltage" ? "Battery" : "Clamp";
    options.trace.quantity = mode == "voltage" ? Quantity::voltage : Quantity::current;
    if (drawn.chain.mv_per_a && mode != "voltage") options.trace.scale = 1 / *drawn.chain.mv_per_a;
    if (mode != "events") options.reference = {.sync = "Sync", .sync_lead_deg = drawn.chain.sync_lead_deg};
    return options;
}

}  // namespace accuracy
