// A trace that says less than the pressure did. Recordings of the invented engine (simulation).
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"
#include "evenstroke/synth.hpp"

using namespace evenstroke;

namespace {

PressureOptions dimensions_of(const Geometry& geometry) {
    PressureOptions known;
    known.bore_m = geometry.bore_m;
    known.stroke_m = geometry.stroke_m;
    known.rod_m = geometry.rod_m;
    known.compression_ratio = geometry.compression_ratio;
    return known;
}

/// A four whose position 1 holds a transducer, cranked for `duration_s`.
SynthOptions held_by_a_transducer(double duration_s = 4) {
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    options.run.duration_s = duration_s;
    options.run.stop_s = duration_s + 1;
    options.run.ends_by = CrankingEnd::recording_end;
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.pressure_position = 1;
    options.chain.rate_hz = 4000;
    return options;
}

PressureFindings judged(const Pressure& p, const PressureOptions& options) {
    return judge_pressure(p, options);
}

bool noticed(const Pressure& p, const std::string& code) {
    return std::any_of(p.notices.begin(), p.notices.end(), [&](const Notice& n) { return n.code == code; });
}

std::vector<float>& readings(SynthResult& made) {
    return made.recording.channels[0].values;
}

}  // namespace

TEST_CASE("pressure gates: equal quantised peaks, one over-range sample, lone holes -> read all the same") {
    SynthOptions options = held_by_a_transducer();
    options.chain.rate_hz = 10'000;
    const PressureOptions known = dimensions_of(options.engine.geometry);
    SynthResult made = synthesise(options, 51);
    std::vector<float>& kpa = readings(made);
    const auto top = static_cast<std::size_t>(std::max_element(kpa.begin(), kpa.end()) - kpa.begin());
    const char* notice = nullptr;
    SUBCASE("three equal samples at the top") {
        const float most = kpa[top] + 3;
        for (std::size_t i = top - 1; i <= top + 1; ++i) kpa[i] = most;
    }
    SUBCASE("over-range once") {
        kpa[top - 40] = kpa[top];  // as the reader holds it
        made.recording.channels[0].clipped = {{top - 40, top - 39}};
        notice = "holes";
    }
    SUBCASE("a sample is missing every 50 ms") {
        for (std::size_t i = 100; i + 1 < kpa.size(); i += 500) {
            kpa[i] = (kpa[i - 1] + kpa[i + 1]) / 2;
            made.recording.channels[0].gaps.push_back({i, i + 1});
        }
        notice = "holes";
    }
    const Pressure p = measure_pressure(made.recording, known);
    CHECK_FALSE(noticed(p, "clipped"));
    CHECK_FALSE(noticed(p, "gaps"));
    if (notice != nullptr) CHECK(noticed(p, notice));
    CHECK(judged(p, known).outcome == PressureVerdict::sealing);
}

TEST_CASE(
    "pressure gates: compressions that stand high for long, the first the highest -> no check-valve gauge") {
    // Made by hand: each stands high for a third of the cycle, as where the crank all but stops at the top.
    Channel channel{.name = "P", .unit = "kPa"};
    constexpr int rate_hz = 2000, cycle = 1000;
    for (int i = 0; i < 10 * cycle; ++i) {
        const double u = std::fmod(i / double{cycle} + 0.8, 1.0);
        const double rise = u < 0.35 ? std::sin(pi * u / 0.35) : 0;
        const double height = i < cycle ? 1010 : 1000;
        channel.values.push_back(
            static_cast<float>(100 + height * std::sqrt(rise) + 0.5 * std::sin(777.7 * i * i)));
    }
    Recording recording{.path = "made", .rate_hz = rate_hz, .recorded_rate_hz = rate_hz, .duration_s = 5};
    recording.channels.push_back(channel);
    const Pressure p = measure_pressure(recording);
    CHECK(p.kind != PressureKind::staircase);
    CHECK(p.pulses.size() == 10);
}

TEST_CASE("pressure gates: a transducer that dies on the way -> said, and never said of a live one") {
    const SynthOptions options = held_by_a_transducer(5);
    SynthResult made = synthesise(options, 56);
    CHECK_FALSE(noticed(measure_pressure(made.recording), "stuck"));
    std::vector<float>& kpa = readings(made);
    std::fill(kpa.begin() + 8000, kpa.end(), kpa[8000]);
    const Pressure p = measure_pressure(made.recording);
    REQUIRE(noticed(p, "stuck"));
    for (const Notice& n : p.notices)
        if (n.code == "stuck") CHECK(n.text.starts_with("From 2.00 s on"));
}
