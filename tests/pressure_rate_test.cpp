// How few readings a second still carry a compression. Recordings of the invented engine (simulation), of
// which every so many readings are kept.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"

using namespace evenstroke;

namespace {

constexpr int dense_hz = 6000;

SynthOptions at_200_rpm() {
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    options.run.duration_s = 4;
    options.run.stop_s = 5;
    options.run.ends_by = CrankingEnd::recording_end;
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.pressure_position = 1;
    options.chain.rate_hz = dense_hz;
    return options;
}

PressureOptions its_dimensions() {
    const Geometry g = at_200_rpm().engine.geometry;
    return {.bore_m = g.bore_m,
            .stroke_m = g.stroke_m,
            .rod_m = g.rod_m,
            .compression_ratio = g.compression_ratio};
}

Recording thinned(const Recording& dense, int rate_hz) {
    Recording few = dense;
    few.rate_hz = few.recorded_rate_hz = rate_hz;
    std::vector<float>& values = few.channels[0].values;
    const auto every = static_cast<std::size_t>(dense_hz / rate_hz);
    values.clear();
    for (std::size_t i = 0; i < dense.channels[0].values.size(); i += every)
        values.push_back(dense.channels[0].values[i]);
    return few;
}

bool noted(const Pressure& p, const std::string& code) {
    return std::any_of(p.notices.begin(), p.notices.end(), [&](const Notice& n) { return n.code == code; });
}

}  // namespace

TEST_CASE("pressure rate: 500 to 200 Hz -> no top is taken for a spike, peak and TDC as from 6000 Hz" *
          test::once) {
    int seen_tdcs = 0, held = 0;
    for (const bool leaks : {false, true}) {
        CAPTURE(leaks);
        SynthOptions options = at_200_rpm();
        if (leaks) options.engine.faults = {{1, FaultKind::exhaust_valve, 4}};
        const SynthResult made = synthesise(options, 71);
        const Pressure dense = measure_pressure(made.recording, its_dimensions());
        REQUIRE(dense.peak_kpa);
        for (const int rate_hz : {500, 250, 200}) {
            CAPTURE(rate_hz);
            const Pressure p = measure_pressure(thinned(made.recording, rate_hz), its_dimensions());
            CHECK_FALSE(noted(p, "spikes"));
            REQUIRE(p.peak_kpa);
            // At 6 degrees a reading the highest is up to 3 off the top, where a cylinder that seals stands
            // at 99 % (adiabatic, compression ratio 10.5).
            CHECK(std::abs(p.peak_kpa->value / dense.peak_kpa->value - 1) < 0.01);
            REQUIRE(p.tdc_known());
            for (const SynthEvent& event : made.truth.events) {
                if (event.position != 1) continue;
                const auto seen = std::find_if(p.pulses.begin(), p.pulses.end(), [&](const PressurePulse& q) {
                    return q.used && q.tdc_s && std::abs(*q.tdc_s - event.tdc_s) < 0.1;
                });
                if (seen == p.pulses.end()) continue;
                ++seen_tdcs;
                held += *seen->tdc_low_s<event.tdc_s&& * seen->tdc_high_s> event.tdc_s;
            }
            CHECK((judge_pressure(p, its_dimensions()).outcome == PressureVerdict::leaking) == leaks);
        }
    }
    REQUIRE(seen_tdcs > 20);
    CHECK(held > 0.9 * seen_tdcs);  // intervals of 95 %, and one recording's pulses err alike
}

TEST_CASE("pressure rate: too few readings for a top -> the rate is the reason, and no peak is given") {
    const SynthResult made = synthesise(at_200_rpm(), 71);
    for (const int rate_hz : {100, 50}) {
        CAPTURE(rate_hz);
        const Pressure p = measure_pressure(thinned(made.recording, rate_hz), its_dimensions());
        CHECK(!p.peak_kpa);
        CHECK(!p.bare);
        const PressureFindings f = judge_pressure(p, its_dimensions());
        CHECK(f.outcome == PressureVerdict::inconclusive);
        CHECK(f.headline.find("Hz one reading stands for") != std::string::npos);
        CHECK(f.headline.find("record with 1000 Hz or more") != std::string::npos);
    }
}

TEST_CASE("pressure rate: real spikes among few readings -> bridged all the same") {
    const SynthResult made = synthesise(at_200_rpm(), 71);
    Recording few = thinned(made.recording, 250);
    const Pressure clean = measure_pressure(few, its_dimensions());
    REQUIRE(clean.pulses.size() > 3);
    std::vector<float>& values = few.channels[0].values;
    for (std::size_t k = 0; k + 1 < clean.pulses.size(); ++k)  // between strokes
        values[clean.sample_at((clean.pulses[k].peak_s + clean.pulses[k + 1].peak_s) / 2)] += 1000;
    const Pressure p = measure_pressure(few, its_dimensions());
    CHECK(noted(p, "spikes"));
    CHECK(p.pulses.size() == clean.pulses.size());
}
