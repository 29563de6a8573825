// A sensor that drifts while it records. Recordings of the invented engine (simulation), to which the drift
// is added: what is found must not depend on it.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

SynthOptions five_seconds(double leak_mm2) {
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    if (leak_mm2 > 0) options.engine.faults = {{1, FaultKind::exhaust_valve, leak_mm2}};
    options.run.duration_s = 5;
    options.run.stop_s = 6;
    options.run.ends_by = CrankingEnd::recording_end;
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.pressure_position = 1;
    options.chain.rate_hz = 2000;
    return options;
}

PressureOptions drifting_dimensions() {
    const Geometry g = five_seconds(0).engine.geometry;
    return {.bore_m = g.bore_m,
            .stroke_m = g.stroke_m,
            .rod_m = g.rod_m,
            .compression_ratio = g.compression_ratio};
}

const Notice* drift_of(const Pressure& p) {
    const auto found =
        std::find_if(p.notices.begin(), p.notices.end(), [](const Notice& n) { return n.code == "drift"; });
    return found == p.notices.end() ? nullptr : &*found;
}

Pressure with_drift(const SynthResult& made, const std::function<double(double)>& drift_kpa) {
    Recording recording = made.recording;
    std::vector<float>& kpa = recording.channels[0].values;
    for (std::size_t i = 0; i < kpa.size(); ++i)
        kpa[i] += static_cast<float>(drift_kpa(static_cast<double>(i) / recording.rate_hz));
    return measure_pressure(recording, drifting_dimensions());
}

}  // namespace

TEST_CASE(
    "pressure drift: tens of kPa, straight or as of a sensor that warms up -> named, and nothing moves" *
    test::once) {
    const std::function<double(double)> drifts[] = {
        [](double s) { return 8 * s; }, [](double s) { return -8 * s; }, [](double s) { return 16 * s; },
        [](double s) { return -60 * (1 - std::exp(-s)); }, [](double s) { return 40 * std::exp(-s / 2); }};
    for (const double leak_mm2 : {0.0, 1.0, 4.0}) {
        CAPTURE(leak_mm2);
        const SynthResult made = synthesise(five_seconds(leak_mm2), 72);
        const Pressure still = with_drift(made, [](double) { return 0.0; });
        CHECK(drift_of(still) == nullptr);
        REQUIRE(still.trapped_ratio);
        REQUIRE(still.sealed_ratio);
        for (const auto& drift : drifts) {
            CAPTURE(drift(4));
            const Pressure p = with_drift(made, drift);
            REQUIRE(drift_of(p) != nullptr);
            CHECK(drift_of(p)->text.find("before recording") != std::string::npos);
            REQUIRE(p.trapped_ratio);
            REQUIRE(p.sealed_ratio);
            // What is left of a bent drift between two exhaust strokes is about a kPa, and one kPa is one
            // hundredth of the charge.
            CHECK(std::abs(p.trapped_ratio->value - still.trapped_ratio->value) < 0.03);
            CHECK(std::abs(p.sealed_ratio->value - still.sealed_ratio->value) < 0.03);
            CHECK(std::abs(p.peak_kpa->value / still.peak_kpa->value - 1) < 0.005);
            CHECK(judge_pressure(p, drifting_dimensions()).outcome ==
                  judge_pressure(still, drifting_dimensions()).outcome);
        }
    }
}

TEST_CASE("pressure drift: a transducer with a floor drifts too -> the floor is said, and no leak is missed" *
          test::once) {
    for (const double leak_mm2 : {2.0, 4.0}) {
        CAPTURE(leak_mm2);
        SynthResult made = synthesise(five_seconds(leak_mm2), 72);
        // It ends a little below the outside, which the exhaust strokes leave upwards as it warms up.
        constexpr double floor_kpa = 95;
        std::vector<float>& kpa = made.recording.channels[0].values;
        for (std::size_t i = 0; i < kpa.size(); ++i) {
            const double drift_kpa = 3 * static_cast<double>(i) / made.recording.rate_hz;
            kpa[i] = static_cast<float>(std::max(floor_kpa, static_cast<double>(kpa[i]) + drift_kpa));
        }
        const Pressure p = measure_pressure(made.recording, drifting_dimensions());
        CHECK(has_notice(p.notices, "floor"));
        CHECK(drift_of(p) == nullptr);
        CHECK(judge_pressure(p, drifting_dimensions()).outcome != PressureVerdict::sealing);
    }
}

TEST_CASE("pressure drift: levels that differ but do not go one way smoothly -> no drift is taken off") {
    // One exhaust stroke held up by 10 kPa, as a knock on the lead does.
    const SynthResult made = synthesise(five_seconds(0), 72);
    const Pressure still = with_drift(made, [](double) { return 0.0; });
    REQUIRE(still.pulses.size() > 4);
    const double from_s = still.pulses[2].peak_s, cycle_s = still.pulses[3].peak_s - from_s;
    const Pressure p = with_drift(made, [&](double s) {
        return s > from_s + 0.28 * cycle_s && s < from_s + 0.42 * cycle_s ? 10.0 : 0.0;
    });
    CHECK(drift_of(p) == nullptr);
    CHECK(std::abs(p.peak_kpa->value / still.peak_kpa->value - 1) < 0.005);
}
