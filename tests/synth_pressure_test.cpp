// The invented engine's cylinder pressure: transducer and gauge against closed forms, the truth against the
// trace.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "evenstroke/error.hpp"
#include "evenstroke/synth.hpp"
#include "synth/gauge.hpp"
#include "synth/transducer.hpp"

using namespace evenstroke;

namespace {

/// Three seconds of a four whose position 1 holds a transducer without noise, and nothing else recorded.
SynthOptions measured() {
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    options.run.duration_s = 3;
    options.run.stop_s = 2.6;
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.pressure_position = 1;
    options.chain.pressure_noise_kpa = 0;
    return options;
}

std::vector<float> readings(const SynthOptions& options) {
    const Recording recording = synthesise(options, 5).recording;
    REQUIRE(recording.channels.size() == 1);
    CHECK(recording.channels[0].name == "Pressure");
    CHECK(recording.channels[0].unit == options.chain.transducer.unit);
    return recording.channels[0].values;
}

/// Whether every reading of `seen` is `form(reading of base, time)`, to `allowed`.
template <class Form>
bool follows(const std::vector<float>& base, const std::vector<float>& seen, double rate_hz, double allowed,
             Form form) {
    if (base.size() != seen.size() || base.empty()) return false;
    for (std::size_t i = 0; i < base.size(); ++i)
        if (!(std::abs(static_cast<double>(seen[i]) -
                       form(static_cast<double>(base[i]), static_cast<double>(i) / rate_hz)) <= allowed))
            return false;
    return true;
}

}  // namespace

TEST_CASE("synth: a slow transducer -> ramp and sine as a first-order low-pass shows them") {
    // Closed forms (any text on linear systems): behind a ramp by slope x time constant once settled; a sine
    // at the corner frequency comes out at 1/sqrt(2), 45 degrees late.
    constexpr double corner_hz = 100, slope_kpa_per_s = 5000;
    std::vector<double> ramp, sine;
    for (int i = 0; i < 4000; ++i) {
        ramp.push_back(slope_kpa_per_s * i * synth::step_s);
        sine.push_back(1000 * std::sin(2 * pi * corner_hz * i * synth::step_s));
    }
    const double constant_s = 1 / (2 * pi * corner_hz);
    const auto slow_ramp = synth::lagging(ramp, corner_hz), slow_sine = synth::lagging(sine, corner_hz);
    // 4000 steps are 125 time constants: nothing of the start is left but rounding.
    CHECK(std::abs(ramp.back() - slow_ramp.back() - slope_kpa_per_s * constant_s) < 1e-9);
    for (std::size_t i = 3000; i < sine.size(); ++i) {
        const double t = static_cast<double>(i) * synth::step_s;
        // Straight lines between steps cut a sine of 200 steps by (2 pi / 200)^2 / 8 = 1.2e-4 of its height.
        CHECK(std::abs(slow_sine[i] - 1000 / std::sqrt(2.0) * std::sin(2 * pi * corner_hz * t - pi / 4)) <
              0.15);
    }
}

TEST_CASE("synth: one pressure in every unit -> the units' own factors") {
    SynthOptions options = measured();
    const auto kpa = readings(options);
    const double rate = options.chain.rate_hz;
    // NIST SP 811 (2008), App. B.8 (PRINTED): psi 6.894757 kPa; bar 100 kPa and MPa 1000 kPa exact. Allowed:
    // rounding of two floats at the highest reading, and the seventh digit of the psi.
    for (const auto& row : {std::pair{"psi", 6.894757}, std::pair{"bar", 100.0}, std::pair{"MPa", 1000.0}}) {
        const char* const unit = row.first;
        const double factor = row.second;
        CAPTURE(unit);
        options.chain.transducer.unit = unit;
        const double per = factor;
        CHECK(follows(kpa, readings(options), rate, 3000 / per * 4e-7,
                      [per](double p, double) { return p / per; }));
    }
    options.chain.transducer.unit = "V";
    options.chain.transducer.kpa_per_v = 400;
    options.chain.transducer.zero_v = 0.5;
    CHECK(follows(kpa, readings(options), rate, 1e-5, [](double p, double) { return 0.5 + p / 400; }));
    options.chain.transducer.reversed = true;
    CHECK(follows(kpa, readings(options), rate, 1e-5, [](double p, double) { return -0.5 - p / 400; }));
}

TEST_CASE("synth: offset, drift, gauge zero, range -> each does what it says and no more") {
    const SynthOptions plain = measured();
    const auto kpa = readings(plain);
    const double rate = plain.chain.rate_hz;
    constexpr double rounding_kpa = 1e-3;  // floats near 2000
    SynthOptions options = plain;
    options.chain.pressure_offset_kpa = 12.5;
    options.chain.transducer.drift_kpa_per_s = -4;
    CHECK(follows(kpa, readings(options), rate, rounding_kpa,
                  [](double p, double t) { return p + 12.5 - 4 * t; }));
    options = plain;
    options.chain.transducer.gauge = true;
    const double ambient = plain.engine.ambient_kpa;
    CHECK(follows(kpa, readings(options), rate, rounding_kpa, [&](double p, double) { return p - ambient; }));
    options = plain;
    options.chain.transducer.limit_kpa = 700;
    CHECK(follows(kpa, readings(options), rate, rounding_kpa,
                  [](double p, double) { return std::min(p, 700.0); }));
    CHECK(*std::max_element(kpa.begin(), kpa.end()) > 1500);  // so that the range did clip
}

TEST_CASE("synth: noise on the pressure -> its standard deviation") {
    const SynthOptions plain = measured();
    SynthOptions options = plain;
    options.chain.pressure_noise_kpa = 3;
    const auto kpa = readings(plain), noisy = readings(options);
    double sum = 0;
    for (std::size_t i = 0; i < kpa.size(); ++i)
        sum += std::pow(static_cast<double>(noisy[i]) - static_cast<double>(kpa[i]), 2);
    const auto n = static_cast<double>(kpa.size());
    // 30 001 readings: the deviation of a deviation is 1/sqrt(2n) = 0.4 %; four of those.
    CHECK(std::abs(std::sqrt(sum / n) / 3 - 1) < 0.017);
}

TEST_CASE("synth: the truth's peaks -> where and as high as the trace shows them, before TDC") {
    SynthOptions options = measured();
    options.chain.rate_hz = 20'000;  // every step of the run
    options.run.duration_s = 4;
    options.run.stop_s = 3.6;
    const SynthResult result = synthesise(options, 5);
    const auto& kpa = result.recording.channels[0].values;
    int seen = 0;
    double loss_deg = 0;
    for (const SynthEvent& event : result.truth.events) {
        if (event.position != 1 || event.tdc_s < result.truth.steady_s) continue;
        REQUIRE(event.peak_s);
        REQUIRE(event.peak_angle_deg);
        const auto tdc = kpa.begin() + static_cast<std::ptrdiff_t>(event.tdc_s * 20'000);
        const auto top = std::max_element(tdc - 1000, tdc + 1000);
        // The vertex lies within the step beside the highest sample.
        CHECK(std::abs(static_cast<double>(top - kpa.begin()) / 20'000 - *event.peak_s) <= synth::step_s);
        CHECK(std::abs(static_cast<double>(*top) - event.peak_kpa - options.engine.ambient_kpa) < 1e-3);
        // references.md A1b: heat and leak both move the peak before TDC.
        CHECK(*event.peak_angle_deg < 0);
        CHECK(*event.peak_s < event.tdc_s);
        loss_deg -= *event.peak_angle_deg;
        ++seen;
    }
    REQUIRE(seen >= 3);
    CHECK(std::abs(loss_deg / seen - *result.truth.cylinders[1].loss_angle_deg) < 1e-9);
}

TEST_CASE("synth: a growing leak -> the loss angle grows with it") {
    double last_deg = *synthesise(measured(), 5).truth.cylinders[1].loss_angle_deg;
    CHECK(last_deg > 0);
    for (const double mm2 : {1.0, 2.0, 4.0}) {
        SynthOptions options = measured();
        options.engine.faults = {
            {.position = 1, .kind = FaultKind::exhaust_valve, .amount = mm2, .neighbour = {}}};
        const SynthTruth truth = synthesise(options, 5).truth;
        CHECK(std::abs(truth.cylinders[1].exhaust_leak_mm2 - mm2) < 1e-9);
        CHECK(*truth.cylinders[1].loss_angle_deg > last_deg);
        last_deg = *truth.cylinders[1].loss_angle_deg;
    }
}

TEST_CASE("synth: a pressure recorded too -> the other channels and the truth are what they were") {
    SynthOptions options = measured();
    options.chain.current = options.chain.battery = true;
    const SynthResult with = synthesise(options, 7);
    options.chain.pressure_position.reset();
    const SynthResult without = synthesise(options, 7);
    REQUIRE(with.recording.channels.size() == 3);
    REQUIRE(without.recording.channels.size() == 2);
    for (std::size_t c = 0; c < 2; ++c)
        CHECK(with.recording.channels[c].values == without.recording.channels[c].values);
    CHECK(with.truth.peak_kpa == without.truth.peak_kpa);
}

TEST_CASE("synth: valve events said for one cylinder -> there, and its neighbours as they were") {
    SynthOptions plain = measured();
    plain.engine.spread_pct = 0;  // as said, to the rounding
    SynthOptions late = plain;
    late.engine.timing = {{.position = 1, .intake_closes_deg = 645, .exhaust_opens_deg = 170}};
    const SynthTruth before = synthesise(plain, 5).truth, after = synthesise(late, 5).truth;
    CHECK(std::abs(after.cylinders[1].intake_closes_deg - -75) < 1e-9);
    CHECK(std::abs(after.cylinders[1].exhaust_opens_deg - 170) < 1e-9);
    CHECK(std::abs(after.cylinders[0].intake_closes_deg - -115) < 1e-9);
    CHECK(std::abs(before.cylinders[1].exhaust_opens_deg - 130) < 1e-9);
    CHECK(after.peak_kpa[1] < 0.75 * before.peak_kpa[1]);  // at 75 degrees half the cylinder is left
    CHECK(after.peak_kpa[0] > 0.97 * before.peak_kpa[0]);  // but for a little speed
}

TEST_CASE(
    "synth: a gauge with a check valve -> climbs, never falls, ends below the peak by the valve's spring") {
    SynthOptions options = measured();
    options.run.duration_s = 6;
    options.run.stop_s = 5.6;
    options.chain.transducer.check_valve = true;
    const SynthResult result = synthesise(options, 5);
    const auto& kpa = result.recording.channels[0].values;
    CHECK(std::abs(kpa.front()) < 1e-3F);  // at the outside's pressure
    CHECK(std::is_sorted(kpa.begin(), kpa.end()));
    const auto& puffs = result.truth.puffs_kpa;
    const auto events = std::count_if(result.truth.events.begin(), result.truth.events.end(),
                                      [](const SynthEvent& event) { return event.position == 1; });
    CHECK(static_cast<std::ptrdiff_t>(puffs.size()) == events);
    REQUIRE(puffs.size() >= 6);
    CHECK(puffs.front() > 0.3 * puffs.back());
    CHECK(puffs.front() < 0.9 * puffs.back());
    CHECK(std::abs(puffs.back() - static_cast<double>(kpa.back())) < 1e-2);
    // The valve shuts when the cylinder no longer exceeds the gauge by the spring's 15 kPa: the highest peak
    // less that is never passed, and after six puffs nearly reached (each brings it closer by half, seen in
    // the puffs).
    double highest_kpa = 0;
    for (const SynthEvent& event : result.truth.events)
        if (event.position == 1) highest_kpa = std::max(highest_kpa, event.peak_kpa);
    CHECK(puffs.back() <= highest_kpa - 15);
    CHECK(puffs.back() > 0.98 * highest_kpa - 15);
    // What the gauge takes the cylinder lacks: its first compression peaks lower than without a gauge.
    options.chain.transducer.check_valve = false;
    const auto first = [](const SynthTruth& truth) {
        return std::find_if(truth.events.begin(), truth.events.end(),
                            [](const SynthEvent& event) { return event.position == 1; })
            ->peak_kpa;
    };
    CHECK(first(result.truth) < 0.95 * first(synthesise(options, 5).truth));
}

TEST_CASE("synth: an empty gauge -> the outside's pressure") {
    SynthEngine engine;
    engine.ambient_kpa = 87.5;
    CHECK(std::abs(synth::empty_gauge(0, engine).pressure_pa() - 87'500) < 1e-6);
}

TEST_CASE("synth: a transducer or valve that cannot be -> refused with the option's name") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto refused = [](auto change) {
        SynthOptions options = measured();
        change(options);
        try {
            (void)synthesise(options, 1);
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            return true;
        }
        return false;
    };
    CHECK(refused([](SynthOptions& o) { o.chain.pressure_position = 4; }));
    CHECK(refused([](SynthOptions& o) { o.chain.pressure_position = -1; }));
    CHECK(refused([](SynthOptions& o) { o.chain.transducer.unit = "A"; }));
    CHECK(refused([](SynthOptions& o) { o.chain.transducer.unit = "furlong"; }));
    CHECK(refused([&](SynthOptions& o) { o.chain.pressure_offset_kpa = nan; }));
    CHECK(refused([](SynthOptions& o) { o.chain.pressure_noise_kpa = -1; }));
    CHECK(refused([&](SynthOptions& o) { o.chain.transducer.drift_kpa_per_s = nan; }));
    CHECK(refused([](SynthOptions& o) { o.chain.transducer.bandwidth_hz = 0; }));
    CHECK(refused([](SynthOptions& o) { o.chain.transducer.limit_kpa = 0; }));
    CHECK(refused([](SynthOptions& o) { o.chain.transducer.kpa_per_v = 0; }));
    CHECK(refused([&](SynthOptions& o) { o.chain.transducer.zero_v = nan; }));
    CHECK(refused([](SynthOptions& o) { o.engine.intake_closes_deg = 710; }));
    CHECK(refused([](SynthOptions& o) { o.engine.exhaust_opens_deg = 20; }));
    CHECK(refused([](SynthOptions& o) {
        o.engine.timing = {{.position = 9, .intake_closes_deg = 600, .exhaust_opens_deg = {}}};
    }));
    CHECK(refused([](SynthOptions& o) {
        o.engine.timing = {{.position = 0, .intake_closes_deg = {}, .exhaust_opens_deg = 400}};
    }));
    CHECK(refused([](SynthOptions& o) {
        o.chain.wheel = WheelKind::edges;
        o.chain.pattern = parse_wheel("60-2");
    }));
    CHECK_FALSE(refused([](SynthOptions&) {}));
}
