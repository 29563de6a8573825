// What a recording brings to the evidence: names, partners half a cycle on, battery levels.
#include <doctest/doctest.h>

#include <cmath>
#include <optional>

#include "evenstroke/evidence.hpp"

using namespace evenstroke;

namespace {

constexpr double rate_hz = 1000;

/// 12.6 V at rest, 10 V with a ripple while cranked from 1 to 4 s, beside a current.
Recording with_battery(const char* unit, double factor) {
    Recording r;
    r.rate_hz = r.recorded_rate_hz = rate_hz;
    r.duration_s = 5;
    Channel clamp{.name = "Clamp", .unit = "A", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    Channel battery{.name = "Battery", .unit = unit, .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    for (int i = 0; i < 5000; ++i) {
        const double t = i / rate_hz;
        const bool cranked = t >= 1 && t < 4;
        const double ripple = std::sin(2 * pi * 7 * t);
        const double inrush = cranked ? 400 * std::exp(-(t - 1) / 0.08) : 0;
        clamp.values.push_back(static_cast<float>(cranked ? 150 + 30 * ripple + inrush : 0));
        battery.values.push_back(
            static_cast<float>((cranked ? 10 - 0.3 * ripple - inrush / 200 : 12.6) / factor));
    }
    r.channels = {clamp, battery};
    return r;
}

Cranking cranked() {
    Cranking c;
    c.start_s = 1;
    c.settled_s = 1.5;
    c.end_s = 3.9;
    return c;
}

}  // namespace

TEST_CASE("evidence: a battery channel beside the current -> its levels in volts") {
    for (const auto& [unit, factor] : {std::pair{"V", 1.0}, std::pair{"mV", 1e-3}}) {
        const auto levels = battery_levels(with_battery(unit, factor), cranked());
        REQUIRE(levels.resting_v);
        REQUIRE(levels.cranking_v);
        CHECK(std::abs(*levels.resting_v - 12.6) < 1e-4);  // floats keep 7 digits
        CHECK(std::abs(*levels.cranking_v - 10) < 0.02);   // the mean of a ripple over whole and part periods
    }
}

TEST_CASE("evidence: a sensor's supply and a lamp's feed beside the battery -> the battery, by name") {
    auto recording = with_battery("V", 1);
    const Channel battery = recording.channels.back();
    Channel supply = battery, lamp = battery;
    supply.name = "Supply";
    lamp.name = "Lamp";
    for (std::size_t i = 0; i < battery.values.size(); ++i) {
        supply.values[i] = 5 + 0.01F * (battery.values[i] - 12.6F);  // follows the battery a little
        lamp.values[i] = 12 + 0.2F * (battery.values[i] - 12.6F);
    }
    recording.channels = {recording.channels[0], supply, lamp, battery};
    const auto levels = battery_levels(recording, cranked());
    CHECK(levels.channel == "Battery");
    REQUIRE(levels.resting_v);
    CHECK(std::abs(*levels.resting_v - 12.6) < 1e-4);  // floats keep 7 digits
    recording.channels = {recording.channels[0], supply};
    CHECK(!battery_levels(recording, cranked()).resting_v);
}

TEST_CASE("evidence: no battery channel, no unit, no cranking -> nothing, never 0 V") {
    auto recording = with_battery("V", 1);
    auto none = cranked();
    none.no_cranking = "nothing cranks";
    CHECK(!battery_levels(recording, none).cranking_v);
    recording.channels[1].unit.clear();
    CHECK(!battery_levels(recording, cranked()).cranking_v);
    recording.channels.pop_back();
    CHECK(!battery_levels(recording, cranked()).resting_v);
    CHECK(!battery_levels(Recording{}, cranked()).resting_v);
}

TEST_CASE("evidence: a recording that begins while cranking -> no resting level") {
    auto late = cranked();
    late.start_s = 0;
    CHECK(!battery_levels(with_battery("V", 1), late).resting_v);
}

TEST_CASE("evidence: a named four -> who fires half a cycle on, and its verdicts") {
    const auto layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    CrankAngle angle;
    angle.kind = ReferenceKind::sync;
    angle.speed_rpm = 200;
    Contribution contribution;
    for (const double pct : {100.0, 50.0, 98.0, 99.0})
        contribution.cylinders.push_back({.contribution_pct = pct,
                                          .low_pct = pct - 2,
                                          .high_pct = std::min(100.0, pct + 2),
                                          .simple_pct = {},
                                          .events = 8});
    const auto findings = judge({}, {}, angle, contribution, layout);
    const auto r = recorded_engine("-", {}, {}, angle, contribution, layout, findings,
                                   {.channel = "Battery", .resting_v = 12.5, .cranking_v = 10.1});
    REQUIRE(r.cylinders.size() == 4);
    CHECK(r.path == "standard input");
    CHECK(r.cylinders[1].cylinder == 3);
    CHECK(r.cylinders[1].half_turn_on == 2);
    CHECK(r.cylinders[1].verdict == Verdict::weak);
    CHECK(r.cylinders[0].half_turn_on == 4);
    CHECK(r.cranking_v == 10.1);
    CHECK(r.speed_rpm == 200);

    angle.once_per_turn = true;
    const auto either = recorded_engine("a.csv", {}, {}, angle, contribution, layout, findings);
    CHECK(!either.cylinders[1].cylinder);
    CHECK(either.cylinders[1].possible == std::vector{3, 2});
    CHECK(!either.cylinders[1].half_turn_on);
    CHECK(!either.cranking_v);
}
