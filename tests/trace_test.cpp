#include <doctest/doctest.h>

#include <algorithm>
#include <functional>
#include <numeric>
#include <random>

#include "analyse/check_speed.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/synth.hpp"
#include "evenstroke/trace.hpp"
#include "signals.hpp"
#include "support/once.hpp"
#include "trace/clean.hpp"

using namespace evenstroke;

namespace {

bool has(const std::vector<Notice>& notices, const std::string& code) {
    return std::any_of(notices.begin(), notices.end(), [&](const Notice& n) { return n.code == code; });
}

Trace pick_changed(const std::function<void(std::size_t, float&)>& change, const TraceOptions& options = {},
                   const signals::Crank& crank = {}) {
    auto recording = signals::clamp_and_sync(crank);
    auto& values = recording.channels[0].values;
    for (std::size_t i = 0; i < values.size(); ++i) change(i, values[i]);
    return pick(recording, options);
}

/// Over the first quarter of a second, before the key is turned.
double mean_at_rest(const Trace& trace) {
    const auto count = static_cast<std::size_t>(0.25 * trace.rate_hz);
    return std::accumulate(trace.values.begin(), trace.values.begin() + static_cast<std::ptrdiff_t>(count),
                           0.0) /
           static_cast<double>(count);
}

/// Largest difference between two traces of one length.
double apart(const Trace& a, const Trace& b) {
    REQUIRE(a.values.size() == b.values.size());
    double most = 0;
    for (std::size_t i = 0; i < a.values.size(); ++i)
        most = std::max(most, static_cast<double>(std::abs(a.values[i] - b.values[i])));
    return most;
}

Trace picked(const signals::Crank& crank, const std::vector<float>& values) {
    const auto recording =
        signals::recording(crank.rate_hz, {{.name = "Clamp", .unit = "A", .values = values}});
    return pick(recording, {.channel = "Clamp", .quantity = Quantity::current});
}

}  // namespace

TEST_CASE("trace: current through a high-pass -> its zero is lost, said, whatever the corner") {
    signals::Crank crank;
    crank.hump_a = 90;
    // Corners of scopes' AC coupling and of clamps that measure AC only: common practice, no published
    // source.
    for (const double corner_hz : {0.05, 0.1, 0.3, 1.0, 3.0, 10.0}) {
        CAPTURE(corner_hz);
        for (const float sign : {1.0F, -1.0F}) {
            auto values = signals::high_passed(signals::current_a(crank), crank.rate_hz, corner_hz);
            for (float& v : values) v *= sign;
            const Trace trace = picked(crank, values);
            CHECK(trace.zero_lost);
            CHECK(has(trace.notices, "zero-lost"));
            CHECK_FALSE(has(trace.notices, "reversed"));
            const Cranking cranking = locate(trace);
            CHECK_FALSE(cranking.mean_a);
            CHECK_FALSE(cranking.inrush_a);
        }
    }
}

TEST_CASE("trace: the same, begun while cranking -> its zero is lost") {
    signals::Crank crank;
    crank.hump_a = 90;
    auto values = signals::high_passed(signals::current_a(crank), crank.rate_hz, 1);
    values.erase(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(2 * crank.rate_hz));
    CHECK(picked(crank, values).zero_lost);
}

TEST_CASE("trace: zero lost -> no verdict, no figure built on it, and the reason says what to set") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    recording.channels[0].values = signals::high_passed(recording.channels[0].values, crank.rate_hz, 1);
    AnalyseOptions options{.layout = crank.layout};
    options.reference.sync = "Cam";
    const Analysis a = analyse(recording, options);
    CHECK(a.findings.outcome == Outcome::inconclusive);
    CHECK(a.findings.headline.find("DC coupling") != std::string::npos);
    REQUIRE(a.contribution.cylinders.size() == 4);
    for (const auto& cylinder : a.contribution.cylinders) CHECK_FALSE(cylinder.contribution_pct);
}

TEST_CASE(
    "trace: a DC clamp off zero, drifting, reversed, or carrying a charging current afterwards -> keeps its "
    "zero") {
    signals::Crank crank;
    crank.noise_a = 3;
    const auto plain = signals::current_a(crank);
    CHECK_FALSE(picked(crank, plain).zero_lost);
    const auto changed = [&](auto change) {
        auto values = plain;
        for (std::size_t i = 0; i < values.size(); ++i)
            values[i] = change(values[i], static_cast<float>(i) / static_cast<float>(values.size()));
        return picked(crank, values).zero_lost;
    };
    CHECK_FALSE(changed([](float v, float) { return v - 120; }));
    CHECK_FALSE(changed([](float v, float share) { return v - 20 * share; }));
    CHECK_FALSE(changed([](float v, float) { return -v; }));
    crank.starts = true;
    crank.after_s = 2;
    auto started = signals::current_a(crank);
    const auto from = static_cast<std::size_t>((crank.before_s + crank.cranking_s + 0.3) * crank.rate_hz);
    for (std::size_t i = from; i < started.size(); ++i) started[i] -= 60;
    CHECK_FALSE(picked(crank, started).zero_lost);
}

TEST_CASE("trace: clamp, battery and cam in one recording -> each is recognised, the clamp is chosen") {
    signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    std::vector<float> volts;
    for (const float a : recording.channels[0].values) volts.push_back(12.6F - 0.01F * a);
    recording.channels.insert(recording.channels.begin(), {.name = "Battery", .unit = "V", .values = volts});
    const auto looks = look(recording);
    CHECK(looks[0].quantity == Quantity::voltage);
    CHECK(looks[1].quantity == Quantity::current);
    CHECK(looks[2].quantity == Quantity::sync);
    const Trace trace = pick(recording);
    CHECK(trace.channel == "Clamp");
    CHECK(trace.unit == "A");
    CHECK_FALSE(trace.why.empty());
}

TEST_CASE("trace: a starter's current named after a key, an oil or a fuel -> the current, not the battery") {
    signals::Crank crank;
    const auto current = signals::current_a(crank);
    std::vector<float> volts;
    std::vector<float> small;  // what the key's own circuit takes
    for (const float a : current) {
        volts.push_back(12.6F - 0.01F * a);
        small.push_back(0.02F * a);
    }
    const auto battery = Channel{.name = "Battery", .unit = "V", .values = volts};
    for (const char* name : {"Starter current fuel off", "Cranking amps (oil 20C)", "Key-on current",
                             "Ignition key", "Starter coil"}) {
        CAPTURE(std::string(name));
        const Channel clamp{.name = name, .unit = "A", .values = current};
        CHECK(pick(signals::recording(crank.rate_hz, {clamp, battery})).channel == name);
    }
    for (const char* name : {"Key-on current", "Ignition key", "Fuel cut-off"}) {
        CAPTURE(std::string(name));
        const Channel other{.name = name, .unit = "A", .values = small};
        CHECK(pick(signals::recording(crank.rate_hz, {other, battery})).channel == "Battery");
    }
}

TEST_CASE("trace: a speed that no starter usually has -> the advice fits text or audio" * test::once) {
    const auto advice = [](bool audio) -> std::string {
        auto recording = signals::clamp_and_sync({});
        recording.scaled_audio = audio;
        const double slowed = 0.4;  // of 200 rpm: 80, below the usual
        recording.rate_hz *= slowed;
        recording.recorded_rate_hz *= slowed;
        recording.duration_s /= slowed;
        const Analysis a =
            analyse(recording, {.layout = make_layout(4, {}, {}, {}), .reference = {.sync = "Cam"}});
        for (const Notice& n : a.angle.notices)
            if (n.code == "speed-unusual") return n.text;
        return "none";
    };
    CHECK(advice(false).find("time column") != std::string::npos);
    CHECK(advice(true).find("rate at which it was recorded") != std::string::npos);
    CHECK(advice(true).find("time column") == std::string::npos);
}

TEST_CASE("trace: a wheel faster than any starter -> its speed is doubted once, by the estimate") {
    CrankAngle angle;
    angle.kind = ReferenceKind::wheel;
    angle.speed_rpm = 460;
    check_speed({}, angle);
    CHECK(angle.notices.empty());
    angle.speed_rpm = 400;
    check_speed({}, angle);
    CHECK(has(angle.notices, "speed-unusual"));
}

TEST_CASE("trace: another consumer's current or a sensor's voltage beside the battery -> the battery") {
    signals::Crank crank;
    const auto current = signals::current_a(crank);
    std::vector<float> volts;
    std::vector<float> pump;    // steady while on, with the ripple of its motor
    std::vector<float> sensor;  // rests, and hardly moves
    for (const float a : current) {
        volts.push_back(12.6F - 0.01F * a);
        pump.push_back(a > 20 ? 6 + 0.002F * a : 0);
        sensor.push_back(0.5F + (a > 20 ? 1 + 0.0005F * a : 0));
    }
    for (const Channel& other : {Channel{.name = "Fuel pump", .unit = "A", .values = pump},
                                 Channel{.name = "Ch A", .unit = "A", .values = pump},
                                 Channel{.name = "Coil current", .unit = "A", .values = current},
                                 Channel{.name = "MAP", .unit = "V", .values = sensor},
                                 Channel{.name = "Ch B", .unit = "V", .values = sensor},
                                 Channel{.name = "Clamp",
                                 .unit = "\xC2\xB0"
                                         "C",
                                 .values = current}}) {
        CAPTURE(other.name);
        const auto battery = Channel{.name = "Battery", .unit = "V", .values = volts};
        CHECK(pick(signals::recording(crank.rate_hz, {other, battery})).channel == "Battery");
    }
    // A starter's current is known by its name, its amperes or its inrush, whatever its unit and zero.
    std::vector<float> small;
    for (const float a : current) small.push_back(2.5F + 0.01F * a);
    for (const Channel& starter : {Channel{.name = "Clamp", .unit = "V", .values = sensor},
                                   Channel{.name = "Ch A", .unit = "A", .values = current},
                                   Channel{.name = "A0", .unit = "", .values = small}}) {
        CAPTURE(starter.name);
        const auto battery = Channel{.name = "Battery", .unit = "V", .values = volts};
        CHECK(pick(signals::recording(crank.rate_hz, {starter, battery})).channel == starter.name);
    }
    // Alone, a pump's current is still looked at.
    CHECK(pick(signals::recording(crank.rate_hz, {{.name = "Fuel pump", .unit = "A", .values = pump}}))
              .channel == "Fuel pump");
}

TEST_CASE(
    "trace: humps that are small beside the inrush, or fall to nearly nothing -> rest is rest all the same") {
    // Little load after a great inrush: the humps lie within a tenth of the range, as noise would.
    signals::Crank light;
    light.mean_a = 60;
    light.hump_a = 50;
    light.inrush_a = 900;
    light.after_s = 0;
    const Trace small = pick_changed([](std::size_t, float& v) { v += 20; }, {}, light);
    CHECK_FALSE(has(small.notices, "no-rest"));
    CHECK(std::abs(mean_at_rest(small)) < 1);
    // A starter that coasts after each compression: between humps nearly nothing is drawn.
    signals::Crank coasting;
    coasting.layout = make_layout(3, {}, {}, {});
    coasting.mean_a = 10;
    coasting.hump_a = 240;
    coasting.inrush_a = 900;
    coasting.after_s = 0.5;
    const Trace deep = pick_changed([](std::size_t, float& v) { v += 7; }, {}, coasting);
    CHECK_FALSE(has(deep.notices, "no-rest"));
    CHECK(std::abs(mean_at_rest(deep)) < 1);
}

TEST_CASE("trace: quiet at both ends, and not alike -> the earlier is rest, unless it ripples") {
    signals::Crank crank;
    crank.before_s = 0.5;
    crank.after_s = 1.0;
    const auto values = signals::current_a(crank);
    const auto end = static_cast<std::size_t>((crank.before_s + crank.cranking_s) * crank.rate_hz);
    // After the start the battery is charged, and the clamp's coarse steps hide all noise there.
    const Trace charged = pick_changed([&](std::size_t i, float& v) { v = i > end ? -44 : v; }, {}, crank);
    CHECK(std::abs(mean_at_rest(charged)) < 1);
    // The recording begins while the starter turns a twelve that hardly ripples, and ends at rest.
    crank.hump_a = 40;
    crank.mean_a = 400;
    crank.inrush_a = 400;
    crank.layout = make_layout(12, {}, {}, {});
    const auto first = static_cast<std::size_t>((crank.before_s + 1) * crank.rate_hz);
    auto recording = signals::clamp_and_sync(crank);
    for (Channel& channel : recording.channels)
        channel.values.erase(channel.values.begin(),
                             channel.values.begin() + static_cast<std::ptrdiff_t>(first));
    const Trace late = pick(recording, {.channel = "Clamp", .quantity = Quantity::current});
    CHECK_FALSE(has(late.notices, "reversed"));
    CHECK(mean_at_rest(late) > 390);
}

TEST_CASE(
    "trace: begun while a twelve is cranked, at rest at the end -> rest is where the clamp reads zero") {
    Recording r;
    r.rate_hz = r.recorded_rate_hz = 1000;
    r.duration_s = 5;
    Channel clamp{.name = "Clamp", .unit = "A", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    for (int i = 0; i < 5000; ++i) {
        const double t = i / 1000.0;
        clamp.values.push_back(static_cast<float>(t < 4.2 ? 550 + 10 * std::sin(2 * pi * 24 * t) : 0.3));
    }
    r.channels = {clamp};
    const Trace trace = pick(r, {.channel = "Clamp"});
    CHECK_FALSE(has(trace.notices, "reversed"));
    CHECK(trace.values[1000] > 500);
    CHECK(std::abs(trace.values.back()) < 5);
}

TEST_CASE("trace: what neither rests nor repeats -> a current where the unit says so, else unknown") {
    std::minstd_rand random(5);
    std::vector<float> values(8000);
    float level = 300;
    for (float& v : values) v = level += static_cast<float>(random() % 2001) / 1000.0F - 1.0F;
    auto recording = signals::recording(2000, {{.name = "Clamp", .unit = "A", .values = values}});
    CHECK(look(recording)[0].quantity == Quantity::current);
    recording.channels[0].unit.clear();
    CHECK(look(recording)[0].quantity == Quantity::unknown);
}

TEST_CASE("trace: pulses of a transducer in no unit or in volts -> pressure; a starter's humps -> not") {
    Recording sound = read(EVENSTROKE_SOURCE_DIR "/samples/pressure-sound.flac");
    for (const char* unit : {"", "V"}) {
        sound.channels[0].unit = unit;
        CHECK(look(sound)[0].quantity == Quantity::pressure);
        try {
            (void)pick(sound);
            FAIL("a pressure was taken for a load");
        } catch (const Error& error) {
            CHECK(error.remedy().find("evenstroke pressure") != std::string::npos);
        }
    }
    sound.channels[0].unit = "A";
    CHECK(look(sound)[0].quantity != Quantity::pressure);
    auto humps = signals::clamp_and_sync({});
    humps.channels[0].unit.clear();
    CHECK(look(humps)[0].quantity == Quantity::current);
    // A twin's humps are brief as well, but between them the load stays far from rest.
    Recording twin = synthesise(draw_engine(3, "two-odd"), 3).recording;
    for (Channel& channel : twin.channels) channel.unit.clear();
    CHECK(look(twin)[0].quantity == Quantity::current);
}

TEST_CASE("trace: a channel in a unit of pressure -> pressure, never taken for a cranking current") {
    signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    // The very shape of the current, first in the file: only the unit tells.
    recording.channels.insert(recording.channels.begin(), recording.channels[0]);
    recording.channels[0].name = "Cylinder";
    for (const char* unit : {"kPa", "psi", "bar"}) {
        recording.channels[0].unit = unit;
        CHECK(look(recording)[0].quantity == Quantity::pressure);
        CHECK(pick(recording).channel == "Clamp");
    }
    recording.channels.resize(1);
    for (const TraceOptions& options : {TraceOptions{}, TraceOptions{.channel = "Cylinder"}}) {
        try {
            (void)pick(recording, options);
            FAIL("a pressure was analysed as a current");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::unusable);
            CHECK(error.remedy().find("evenstroke pressure") != std::string::npos);
        }
    }
    CHECK(pick(recording, {.channel = "Cylinder", .quantity = Quantity::current}).quantity ==
          Quantity::current);  // the user's word holds
}

TEST_CASE("trace: channels without unit, as in an audio file -> the same choice") {
    auto recording = signals::clamp_and_sync({});
    for (auto& channel : recording.channels) channel.unit.clear();
    recording.scaled_audio = true;
    for (float& v : recording.channels[0].values) v /= 1000.0F;
    const Trace trace = pick(recording, {.scale = 1000.0});
    CHECK(trace.channel == "Clamp");
    CHECK(trace.unit == "A");
    CHECK(has(pick(recording).notices, "no-scale"));
}

TEST_CASE("trace: reversed clamp -> turned over, named, and equal to the upright one") {
    const Trace upright = pick_changed([](std::size_t, float&) {});
    const Trace reversed = pick_changed([](std::size_t, float& v) { v = -v; });
    CHECK(has(reversed.notices, "reversed"));
    CHECK_FALSE(has(upright.notices, "reversed"));
    CHECK(apart(upright, reversed) < 0.02);  // the medians of the rest are neighbours in its noise of 0.5 A
}

TEST_CASE("trace: clamp zero off and drifting -> both taken off and named") {
    const Trace clean = pick_changed([](std::size_t, float&) {});
    const Trace offset = pick_changed([](std::size_t, float& v) { v += 37.0F; });
    CHECK(has(offset.notices, "offset"));
    CHECK(apart(clean, offset) < 0.01);
    const Trace drift = pick_changed([](std::size_t i, float& v) { v += 0.004F * static_cast<float>(i); });
    CHECK(has(drift.notices, "drift"));
    CHECK(apart(clean, drift) < 2.0);  // the ends are medians of 80 ms, in which the zero moves by 0.6 A
}

TEST_CASE(
    "trace: glow plugs that are on at first, round the battery's cable -> a consumer is named as possible") {
    const auto said = [](const Trace& trace, const std::string& code) {
        for (const Notice& notice : trace.notices)
            if (notice.code == code) return notice.text;
        return std::string();
    };
    // From 0.3 to 4.3 s; they go off within the cranking.
    const Trace on = pick_changed([](std::size_t i, float& v) { v += i < 5000 ? 30.0F : 0.0F; });
    CHECK(said(on, "offset").find("glow plugs") != std::string::npos);
    CHECK(said(on, "drift").find("another consumer went off") != std::string::npos);
    CHECK(said(on, "drift").find("starter's own cable") != std::string::npos);
    const Trace later = pick_changed([](std::size_t i, float& v) { v += i < 5000 ? 0.0F : 30.0F; });
    CHECK(said(later, "drift").find("another consumer went on") != std::string::npos);
    // No consumer drives current back.
    const Trace below = pick_changed([](std::size_t, float& v) { v -= 30.0F; });
    CHECK(said(below, "offset").find("Zero the clamp before recording") != std::string::npos);
    CHECK(said(below, "offset").find("consumer") == std::string::npos);
}

TEST_CASE("trace: millivolts per ampere -> amperes with --scale, a remark without") {
    const auto millivolts = [](std::size_t, float& v) { v *= 10.0F; };
    auto recording = signals::clamp_and_sync({});
    recording.channels[0].unit = "mV";
    for (std::size_t i = 0; i < recording.channels[0].values.size(); ++i)
        millivolts(i, recording.channels[0].values[i]);
    const Trace scaled = pick(recording, {.scale = 0.1});
    CHECK(scaled.unit == "A");
    CHECK(*std::max_element(scaled.values.begin(), scaled.values.end()) == doctest::Approx(550).epsilon(0.1));
    CHECK(has(pick(recording).notices, "no-scale"));
}

TEST_CASE("trace: fewer than a hundred samples a second -> said; a hundred -> not") {
    signals::Crank crank;
    const auto said = [&](double rate_hz) {
        crank.rate_hz = rate_hz;
        return has(picked(crank, signals::current_a(crank)).notices, "rate-too-low");
    };
    CHECK(said(80));
    CHECK_FALSE(said(100));
}

TEST_CASE("trace: single-sample spikes -> bridged, counted, humps untouched") {
    const Trace clean = pick_changed([](std::size_t, float&) {});
    const Trace spiky = pick_changed([](std::size_t i, float& v) {
        if (i % 997 == 400) v += 300.0F;
    });
    CHECK(has(spiky.notices, "spikes"));
    CHECK_FALSE(has(clean.notices, "spikes"));
    CHECK(apart(clean, spiky) < 5.0);  // a bridge over one sample of a 60 A hump
}

TEST_CASE("trace: a converter so coarse that the humps are a few codes high -> no spikes, but a real one") {
    // 8 bit over 4000 A: codes of 15.6 A, and noise about the edges between them.
    std::mt19937 random(5);
    std::normal_distribution<float> noise(0, 1);
    const auto coarse = [&](std::size_t, float& v) {
        v = std::round((v + noise(random)) / 15.625F) * 15.625F;
    };
    CHECK_FALSE(has(pick_changed(coarse).notices, "spikes"));
    const Trace spiky = pick_changed([&](std::size_t i, float& v) {
        coarse(i, v);
        if (i == 3000) v += 400;
    });
    CHECK(has(spiky.notices, "spikes"));
}

TEST_CASE("trace: 50 Hz hum -> notched and named; without hum nothing is said") {
    signals::Crank crank;
    crank.before_s = 0.5;
    const Trace clean = pick_changed([](std::size_t, float&) {}, {}, crank);
    const Trace hum = pick_changed(
        [&](std::size_t i, float& v) {
            v += 15.0F * static_cast<float>(
                             std::sin(2 * std::numbers::pi * 50 * static_cast<double>(i) / crank.rate_hz));
        },
        {}, crank);
    CHECK(has(hum.notices, "hum"));
    CHECK_FALSE(has(clean.notices, "hum"));
    // Settled part only: the notch rings for some 0.3 s after the inrush. A tenth of the hum may stay.
    double most = 0;
    for (std::size_t i = static_cast<std::size_t>(1.5 * crank.rate_hz);
         i < static_cast<std::size_t>(3.5 * crank.rate_hz); ++i)
        most = std::max(most, static_cast<double>(std::abs(hum.values[i] - clean.values[i])));
    CHECK(most < 1.5);
}

TEST_CASE("trace: inrush beyond the range -> clipped is named; an 8 bit staircase is no clip") {
    const Trace cut = pick_changed([](std::size_t, float& v) { v = std::min(v, 300.0F); });
    CHECK(has(cut.notices, "clipped"));
    REQUIRE(cut.clipped.size() >= 1);
    CHECK(cut.time_s(cut.clipped.front().first) == doctest::Approx(0.3).epsilon(0.01));
    // Seconds of it are still said in plain digits.
    const Trace flat = pick_changed([](std::size_t, float& v) { v = std::min(v, 100.0F); });
    REQUIRE(has(flat.notices, "clipped"));
    for (const Notice& notice : flat.notices) CHECK(notice.text.find("e+") == std::string::npos);
    const Trace coarse = pick_changed([](std::size_t, float& v) { v = 4.0F * std::round(v / 4.0F); });
    CHECK_FALSE(has(coarse.notices, "clipped"));
}

TEST_CASE("trace: constant, noise only, no channel -> refused with what was seen") {
    auto recording = signals::clamp_and_sync({});
    recording.channels.resize(1);
    std::fill(recording.channels[0].values.begin(), recording.channels[0].values.end(), 3.0F);
    CHECK_THROWS_AS((void)pick(recording), Error);
    std::minstd_rand random(7);
    for (float& v : recording.channels[0].values) v = static_cast<float>(random() % 1000);
    recording.channels[0].unit.clear();
    CHECK_THROWS_AS((void)pick(recording), Error);
    recording.channels.clear();
    CHECK_THROWS_AS((void)pick(recording), Error);
}

TEST_CASE("trace: a channel that does not exist -> the error lists those that do") {
    const auto recording = signals::clamp_and_sync({});
    try {
        (void)pick(recording, {.channel = "Pressure"});
        FAIL("not refused");
    } catch (const Error& error) {
        CHECK(error.code() == ErrorCode::no_such_channel);
        CHECK(error.remedy().find("Clamp") != std::string::npos);
        CHECK(error.remedy().find("Cam") != std::string::npos);
    }
}

TEST_CASE("trace: a quantity that no cranking is judged from -> refused, whatever the channel") {
    const auto recording = signals::clamp_and_sync({});
    for (const Quantity quantity : {Quantity::pressure, Quantity::sync, Quantity::steady, Quantity::unknown})
        for (const auto& channel : {std::optional<std::string>(), std::optional<std::string>("Clamp")})
            CHECK_THROWS_AS((void)pick(recording, {.channel = channel, .quantity = quantity}), Error);
}

TEST_CASE("trace: two samples -> a result or a refusal, no crash") {
    auto recording = signals::recording(1000, {{.name = "Clamp", .unit = "A", .values = {0.0F, 1.0F}}});
    try {
        (void)pick(recording);
    } catch (const Error&) {
    }
    CHECK(trace::find_clipping({}, true, true).empty());
}

TEST_CASE("trace: a key turned twice makes two levels of the voltage -> the told quantity settles it") {
    signals::Crank crank;
    crank.mean_a = 300;
    crank.hump_a = 20;
    crank.inrush_a = 350;
    auto recording = signals::clamp_and_sync(crank);
    Channel& battery = recording.channels[0];
    battery = {.name = "Battery", .unit = "V", .values = {}};
    for (int turned = 0; turned < 2; ++turned)
        for (const float a : signals::current_a(crank)) battery.values.push_back(12.6F - 0.01F * a);
    Channel& cam = recording.channels[1];
    const std::vector<float> marks = cam.values;
    cam.values.insert(cam.values.end(), marks.begin(), marks.end());
    recording.duration_s *= 2;
    REQUIRE(look(recording)[0].quantity == Quantity::sync);

    const Trace told = pick(recording, {.quantity = Quantity::voltage, .sync = "Cam"});
    CHECK(told.channel == "Battery");
    CHECK(told.quantity == Quantity::voltage);
    CHECK(told.why == "the only channel besides the sync");
    AnalyseOptions options{.layout = crank.layout};
    options.trace.quantity = Quantity::voltage;
    options.reference.sync = "2";
    CHECK(analyse(recording, options).trace.channel == "Battery");
    // Two channels that could be it leave a choice to the user; a pump's amperes are no voltage.
    recording.channels.push_back({.name = "Pump", .unit = "A", .values = cam.values});
    CHECK(pick(recording, {.quantity = Quantity::voltage, .sync = "Cam"}).channel == "Battery");
    recording.channels.back().unit = "V";
    CHECK_THROWS_AS((void)pick(recording, {.quantity = Quantity::voltage, .sync = "Cam"}), Error);
}

TEST_CASE("trace: a voltage through a high-pass, its quantity told -> read, and its zero is lost") {
    signals::Crank crank;
    crank.cranking_s = 7;
    for (const double corner_hz : {0.05, 0.3, 1.0}) {  // common practice, no published source
        CAPTURE(corner_hz);
        auto recording = signals::clamp_and_sync(crank);
        std::vector<float> volts;
        for (const float a : recording.channels[0].values) volts.push_back(12.6F - 0.012F * a);
        // The capacitor is empty when the recording begins: the voltage starts whole and sinks from there.
        auto sunk = signals::high_passed(volts, crank.rate_hz, corner_hz);
        const double tau_s = 1 / (2 * pi * corner_hz);
        for (std::size_t i = 0; i < sunk.size(); ++i)
            sunk[i] += static_cast<float>(12.6 * std::exp(-static_cast<double>(i) / crank.rate_hz / tau_s));
        recording.channels[0] = {.name = "Battery", .unit = "V", .values = sunk};
        const Trace trace = pick(recording, {.quantity = Quantity::voltage, .sync = "Cam"});
        CHECK(trace.channel == "Battery");
        REQUIRE(trace.zero_lost);
        CHECK(trace.zero_lost->find("DC coupling") != std::string::npos);
    }
}

TEST_CASE("trace: four seconds of cranking in two minutes, no unit -> still a current") {
    signals::Crank crank;
    crank.before_s = 60;
    crank.after_s = 56;
    auto recording = signals::clamp_and_sync(crank);
    for (auto& channel : recording.channels) channel.unit.clear();
    CHECK(pick(recording).channel == "Clamp");
    CHECK(look(recording)[1].quantity == Quantity::sync);
}

TEST_CASE("trace: a constant -> no hum is said to be in it") {
    const Recording constant =
        signals::recording(2000, {{.name = "Clamp", .unit = "A", .values = std::vector<float>(8000, 7.0F)}});
    const Trace trace = pick(constant, {.channel = "Clamp", .quantity = Quantity::current});
    CHECK(std::none_of(trace.notices.begin(), trace.notices.end(),
                       [](const Notice& n) { return n.code == "hum"; }));
}

namespace {

/// A wheel of `marks_hz` teeth a second for `cranked_s`, after `rest_s` of rest, as levels of 0 and 5 V.
Channel hall_wheel(const std::string& name, double rest_s, double cranked_s, double marks_hz) {
    constexpr double rate_hz = 5'000;
    Channel channel{.name = name, .unit = "V", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    for (int i = 0; i < (rest_s + cranked_s) * rate_hz; ++i) {
        const double turned = (i / rate_hz - rest_s) * marks_hz;
        channel.values.push_back(turned > 0 && turned - std::floor(turned) < 0.5 ? 5.0F : 0.0F);
    }
    return channel;
}

}  // namespace

TEST_CASE("trace: a wheel after a long rest, or a slow one that the user calls a wheel -> chosen") {
    Recording rested{.path = "r.csv", .format = "", .rate_hz = 5'000, .recorded_rate_hz = 5'000};
    rested.channels = {hall_wheel("Crank", 8, 2, 150)};  // 30 marks a second over all of it
    rested.duration_s = 10;
    CHECK(look(rested)[0].quantity == Quantity::wheel);
    CHECK(pick(rested, {.quantity = Quantity::wheel}).channel == "Crank");

    // Twelve teeth at 150 rpm are no more than a busy sync: the user's word settles it, the busiest is taken.
    Recording slow = rested;
    slow.channels = {hall_wheel("Cam", 1, 9, 1.25), hall_wheel("Crank", 1, 9, 30)};
    CHECK_THROWS_AS((void)pick(slow), Error);
    const Trace trace = pick(slow, {.quantity = Quantity::wheel});
    CHECK(trace.channel == "Crank");
    CHECK(trace.quantity == Quantity::wheel);
    slow.channels.erase(slow.channels.begin());
    CHECK(pick(slow, {.quantity = Quantity::wheel}).channel == "Crank");

    // What never changes is no wheel whatever the user says.
    slow.channels[0].values.assign(slow.channels[0].values.size(), 5.0F);
    CHECK_THROWS_AS((void)pick(slow, {.quantity = Quantity::wheel}), Error);
}

TEST_CASE("trace: a scale that takes the readings beyond every number -> refused, with the remedy") {
    const signals::Crank crank;
    const Recording recording = signals::clamp_and_sync(crank);
    for (const double scale : {1e300, -1e37}) {
        CAPTURE(scale);
        try {
            (void)pick(recording, {.channel = "Clamp", .quantity = Quantity::current, .scale = scale});
            FAIL("not refused");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            CHECK(error.remedy().find("--scale") != std::string::npos);
        }
    }
}
