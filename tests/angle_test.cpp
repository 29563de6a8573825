#include <doctest/doctest.h>

#include <algorithm>
#include <functional>
#include <limits>
#include <random>

#include "evenstroke/angle.hpp"
#include "evenstroke/contribution.hpp"
#include "evenstroke/synth.hpp"
#include "signal/flyback.hpp"
#include "signals.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

struct Staged {
    Recording recording;
    Trace trace;
    Cranking cranking;
};

Staged stage(const Recording& recording) {
    Staged staged{.recording = recording, .trace = {}, .cranking = {}};
    staged.trace = pick(recording, {.channel = "Clamp", .quantity = Quantity::current});
    staged.cranking = locate(staged.trace);
    return staged;
}

CrankAngle angle_of(const Recording& recording, const EngineLayout& layout, const ReferenceOptions& options) {
    const Staged staged = stage(recording);
    return reference(staged.recording, staged.trace, staged.cranking, layout, options);
}

/// Angle found less the formula's, folded into ±half of `every_deg`, at mid-cranking.
double error_deg(const CrankAngle& angle, const signals::Crank& crank, double every_deg) {
    const double t = crank.before_s + crank.cranking_s / 2;
    const auto found = angle.at(t);
    REQUIRE(found);
    return std::remainder(*found - signals::angle_deg(crank, t - crank.before_s), every_deg);
}

}  // namespace

TEST_CASE("angle: sync once a cycle -> the angle of the formula, speed and cycles") {
    const signals::Crank crank;
    const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {.sync = "Cam"});
    REQUIRE_FALSE(angle.no_reference);
    CHECK(angle.kind == ReferenceKind::sync);
    CHECK_FALSE(angle.once_per_turn);
    // One sample is 0.6 degrees here; the edge is interpolated between two of them.
    CHECK(std::abs(error_deg(angle, crank, 720)) < 0.6);
    CHECK(std::abs(angle.speed_rpm - 200) < 0.1);
    CHECK(angle.cycles >= 4);
    CHECK(angle.cycles <= 6);
}

TEST_CASE("angle: a lead -> the same marks, so many degrees earlier") {
    const signals::Crank crank;
    const auto recording = signals::clamp_and_sync(crank);
    const CrankAngle plain = angle_of(recording, crank.layout, {.sync = "Cam"});
    const CrankAngle led = angle_of(recording, crank.layout, {.sync = "Cam", .sync_lead_deg = 12.5});
    CHECK(std::abs(*plain.at(2) - *led.at(2) - 12.5) < 1e-9);
}

TEST_CASE("angle: inverted sync -> the same marks") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    const CrankAngle plain = angle_of(recording, crank.layout, {.sync = "Cam"});
    for (float& v : recording.channels[1].values) v = 5.0F - v;
    const CrankAngle inverted = angle_of(recording, crank.layout, {.sync = "Cam"});
    CHECK(std::abs(*plain.at(2) - *inverted.at(2)) < 1e-6);
}

TEST_CASE(
    "angle: a mark half a cycle long -> its rising edge, whatever the rest before and after, and it is "
    "said") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    const CrankAngle plain = angle_of(recording, crank.layout, {.sync = "Cam"});
    for (const float at_rest : {0.0F, 5.0F}) {
        CAPTURE(at_rest);
        for (std::size_t i = 0; i < recording.channels[1].values.size(); ++i) {
            const double t = static_cast<double>(i) / crank.rate_hz - crank.before_s;
            const double in_cycle = std::fmod(signals::angle_deg(crank, t) + 7200, 720);
            const bool turns = t >= 0 && t <= crank.cranking_s;
            recording.channels[1].values[i] = turns ? (in_cycle < 360 ? 5.0F : 0.0F) : at_rest;
        }
        const CrankAngle wide = angle_of(recording, crank.layout, {.sync = "Cam"});
        CHECK(std::abs(std::remainder(*plain.at(2) - *wide.at(2), 720)) < 0.6);
        CHECK(std::any_of(wide.notices.begin(), wide.notices.end(),
                          [](const Notice& n) { return n.code == "wide-mark"; }));
    }
    CHECK(std::none_of(plain.notices.begin(), plain.notices.end(),
                       [](const Notice& n) { return n.code == "wide-mark"; }));
}

TEST_CASE("angle: an injector's voltage -> marked where it is pulled down, not at the kick of its coil") {
    const signals::Crank crank;
    const auto plain = signals::clamp_and_sync(crank);
    const CrankAngle wanted = angle_of(plain, crank.layout, {.sync = "Cam"});
    for (const float sign : {1.0F, -1.0F}) {
        CAPTURE(sign);
        auto recording = plain;
        auto& volts = recording.channels[1].values;
        std::minstd_rand random(3);
        float kick = 0;  // dies away within a few samples
        for (std::size_t i = volts.size() - 1; i > 0; --i) {
            const bool pulled = volts[i] > 2.5F;
            volts[i] = pulled ? 0.4F : 12.0F;
        }
        for (float& v : volts) {
            if (v < 2) kick = 45;
            const float noise = static_cast<float>(random() % 201) / 1000.0F - 0.1F;
            v = sign * (v < 2 ? v + noise : v + noise + kick);
            if (std::abs(v) > 10) kick *= 0.4F;
        }
        CHECK(look(recording)[1].quantity == Quantity::sync);
        const CrankAngle angle = angle_of(recording, crank.layout, {.sync = "Cam"});
        REQUIRE_FALSE(angle.no_reference);
        CHECK(std::abs(angle.speed_rpm - 200) < 0.5);
        // One sample of the 2 kHz is 0.6 degrees at 200 rpm; the end of the mark is 12 degrees on.
        CHECK(std::abs(std::remainder(*angle.at(2) - *wanted.at(2), 720)) < 0.6);
    }
}

TEST_CASE("angle: a pickup's swing, a spark's kick, cranking after a rest -> nothing is cut off") {
    constexpr double samples_hz = 1000;
    std::vector<float> swing(1000, 0.0F), spark(1000, 12.0F), square(1000, 0.0F);
    for (std::size_t i = 100; i < 108; ++i) swing[i] = i < 104 ? -3.0F : 4.0F;
    for (std::size_t i = 100; i < 140; ++i) spark[i] = i < 139 ? 0.5F : 350.0F;
    for (std::size_t i = 300; i < 900; ++i) square[i] = 5.0F;
    for (const auto& values : {swing, spark, square})
        CHECK(signal::without_flyback(values, samples_hz) == values);
    // Two bursts, each with its inrush after a rest, long or short.
    for (const double before_s : {0.1, 0.6}) {
        signals::Crank crank;
        crank.before_s = crank.after_s = before_s;
        std::vector<float> twice = signals::current_a(crank);
        const std::vector<float> once = twice;
        twice.insert(twice.end(), once.begin(), once.end());
        CHECK(signal::without_flyback(twice, crank.rate_hz) == twice);
        auto recording = signals::recording(crank.rate_hz, {{.name = "Clamp", .values = twice}});
        CHECK(look(recording)[0].quantity == Quantity::current);
    }
}

TEST_CASE("angle: sync once a turn -> recognised and said, at the true speed") {
    for (const int cylinders : {2, 3, 4, 6, 8}) {
        CAPTURE(cylinders);
        signals::Crank crank;
        crank.layout = make_layout(cylinders, {}, {}, {});
        auto recording = signals::clamp_and_sync(crank);
        recording.channels[1].values = signals::sync_v(crank, 360);
        const CrankAngle angle = angle_of(recording, crank.layout, {.sync = "Cam"});
        REQUIRE_FALSE(angle.no_reference);
        CHECK(angle.once_per_turn);
        CHECK(std::abs(angle.speed_rpm - 200) < 0.5);
        CHECK(has_notice(angle.notices, "sync-once-per-turn"));
    }
}

TEST_CASE("angle: sync once a cycle on other engines -> not taken for once a turn") {
    for (const int cylinders : {1, 2, 3, 4, 5, 6, 8, 12}) {
        CAPTURE(cylinders);
        signals::Crank crank;
        crank.layout = make_layout(cylinders, {}, {}, {});
        const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {.sync = "2"});
        REQUIRE_FALSE(angle.no_reference);
        CHECK_FALSE(angle.once_per_turn);
        CHECK_FALSE(has_notice(angle.notices, "sync-once-per-turn"));
        CHECK(std::abs(angle.speed_rpm - 200) < 0.5);
    }
}

TEST_CASE("angle: no reference, 1 to 16 cylinders -> speed and firing TDC from the events alone") {
    for (int cylinders = 1; cylinders <= 16; ++cylinders) {
        CAPTURE(cylinders);
        signals::Crank crank;
        crank.layout = make_layout(cylinders, {}, {}, {});
        const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {});
        REQUIRE_FALSE(angle.no_reference);
        CHECK(angle.kind == ReferenceKind::none);
        CHECK(std::abs(angle.speed_rpm / 200 - 1) < 0.005);
        // Which cylinder is position 0 is open; TDC of some cylinder must be met to a few degrees.
        CHECK(std::abs(error_deg(angle, crank, 720.0 / cylinders)) < 5);
    }
}

TEST_CASE(
    "angle: no reference, another number of cylinders than the engine's -> said, doubted where the speed is "
    "odd") {
    const signals::Crank crank;  // four cylinders at 200 rpm: 400 compressions a minute
    const auto recording = signals::clamp_and_sync(crank);
    const auto only_notice = [&](int cylinders) {
        const CrankAngle angle = angle_of(recording, make_layout(cylinders, {}, {}, {}), {});
        REQUIRE_FALSE(angle.no_reference);
        REQUIRE(angle.notices.size() == 2);
        // The recording holds a sync that nobody asked for.
        CHECK(angle.notices.back().code == "sync-unused");
        CHECK(angle.notices.back().text.find("--sync \"Cam\"") != std::string::npos);
        return angle.notices.front();
    };
    // 100 to 350 rpm are usual: common practice, no published source.
    const Notice right = only_notice(4);
    CHECK(right.code == "cylinders-assumed");
    CHECK(right.text.find("4 cylinders were taken as given, and about 200 rpm follows") != std::string::npos);
    CHECK(only_notice(3).code == "cylinders-assumed");  // 267 rpm: nothing tells
    const Notice two = only_notice(2);
    CHECK(two.code == "speed-unusual");  // 400 rpm
    CHECK(two.text.find("3 to 8 cylinders would give a usual speed") != std::string::npos);
    CHECK(only_notice(12).code == "speed-unusual");  // 67 rpm
    // A mark tells the speed, so nothing is assumed.
    CHECK(angle_of(recording, crank.layout, {.sync = "Cam"}).notices.empty());
}

TEST_CASE("angle: no reference, odd intervals -> position 0 stands where its interval begins") {
    const std::vector<std::vector<double>> layouts = {
        {150, 90, 150, 90, 150, 90}, {270, 450}, {315, 405}, {54, 90, 54, 90, 54, 90, 54, 90, 54, 90}};
    const double periods_deg[] = {240, 720, 720,
                                  144};  // after this the pattern of intervals is the same again
    for (std::size_t i = 0; i < layouts.size(); ++i) {
        CAPTURE(i);
        signals::Crank crank;
        crank.layout = make_layout({}, {}, layouts[i], {});
        const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {});
        REQUIRE_FALSE(angle.no_reference);
        CHECK(std::abs(angle.speed_rpm / 200 - 1) < 0.005);
        CHECK(std::abs(error_deg(angle, crank, periods_deg[i])) < 5);
    }
}

TEST_CASE("angle: no reference, the speed sinks or rises by a third and more -> speed and TDC all the same") {
    for (const int cylinders : {4, 6, 8, 12})
        for (const double last_speed_ratio : {0.8, 0.7, 1.2}) {
            CAPTURE(cylinders);
            CAPTURE(last_speed_ratio);
            signals::Crank crank;
            crank.layout = make_layout(cylinders, {}, {}, {});
            crank.last_speed_ratio = last_speed_ratio;
            const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {});
            REQUIRE_FALSE(angle.no_reference);
            // What is settled begins some tenths of a second late, when the speed has changed a little
            // already.
            CHECK(std::abs(angle.speed_rpm / 200 - 1) < 0.04);
            CHECK(std::abs(error_deg(angle, crank, 720.0 / cylinders)) < 5);
        }
}

/// The recording whose sync reads `volts` from `from_s` to `to_s`.
Recording with_sync_at(Recording recording, double from_s, double to_s, float volts) {
    auto& sync = recording.channels[find_channel(recording, "Cam")].values;
    for (std::size_t i = 0; i < sync.size(); ++i) {
        const double time_s = recording.start_s + static_cast<double>(i) / recording.rate_hz;
        if (time_s > from_s && time_s < to_s) sync[i] = volts;
    }
    return recording;
}

TEST_CASE("angle: one or two marks missing, or one too many -> the same angle and speed, and it is said") {
    signals::Crank crank;
    crank.cranking_s = 6;
    const Recording whole = signals::clamp_and_sync(crank);
    const CrankAngle right = angle_of(whole, crank.layout, {.sync = "Cam"});
    REQUIRE(right.time_s.size() > 6);
    const double gap_s = right.time_s[4] - right.time_s[3];
    const auto check = [&](const Recording& recording) {
        const CrankAngle angle = angle_of(recording, crank.layout, {.sync = "Cam"});
        REQUIRE_FALSE(angle.no_reference);
        CHECK(std::abs(error_deg(angle, crank, 720)) < 0.6);
        CHECK(std::abs(angle.speed_rpm - 200) < 0.1);
        CHECK(angle.cycles == right.cycles);
        CHECK(std::any_of(angle.notices.begin(), angle.notices.end(),
                          [](const Notice& n) { return n.code == "uneven-sync"; }));
    };
    const double rest_v = static_cast<double>(whole.channels[find_channel(whole, "Cam")].values.front());
    const auto low = static_cast<float>(rest_v);
    check(with_sync_at(whole, right.time_s[3] - 0.05, right.time_s[3] + 0.2, low));
    check(with_sync_at(whole, right.time_s[3] - 0.05, right.time_s[4] + 0.2, low));
    check(with_sync_at(whole, right.time_s[3] + 0.45 * gap_s, right.time_s[3] + 0.47 * gap_s, low + 5));
}

TEST_CASE("angle: no compression ripple -> no reference, with the reason") {
    signals::Crank crank;
    crank.hump_a = 0;
    crank.noise_a = 3;
    const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {});
    REQUIRE(angle.no_reference);
    CHECK_FALSE(angle.no_reference->empty());
}

TEST_CASE("angle: a sync that never changes or does not exist -> refused") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    const Staged staged = stage(recording);
    CHECK_THROWS_AS(
        (void)reference(recording, staged.trace, staged.cranking, crank.layout, {.sync = "Cylinder 1"}),
        Error);
    std::fill(recording.channels[1].values.begin(), recording.channels[1].values.end(), 0.0F);
    CHECK_THROWS_AS((void)reference(recording, staged.trace, staged.cranking, crank.layout, {.sync = "Cam"}),
                    Error);
}

TEST_CASE(
    "angle: a wheel beside the current whose place on the crank is not told -> the events, and it is said") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    recording.channels[1] = {.name = "Crank", .unit = "V", .values = signals::current_a(crank)};
    for (std::size_t i = 0; i < recording.channels[1].values.size(); ++i) {
        const double t = static_cast<double>(i) / crank.rate_hz - crank.before_s;
        const double in_turn = std::fmod(signals::angle_deg(crank, t) + 7200, 360);  // 36-1, a tooth at 0
        const bool tooth = t >= 0 && t <= crank.cranking_s && in_turn < 350 && std::fmod(in_turn, 10) < 5;
        recording.channels[1].values[i] = tooth ? 5.0F : 0.0F;
    }
    ReferenceOptions options{.wheel = parse_wheel("36-1")};
    const CrankAngle untold = angle_of(recording, crank.layout, options);
    REQUIRE_FALSE(untold.no_reference);
    CHECK(untold.kind == ReferenceKind::none);
    CHECK(has_notice(untold.notices, "wheel-place-unknown"));
    options.wheel_lead_deg = 0;
    const CrankAngle told = angle_of(recording, crank.layout, options);
    REQUIRE_FALSE(told.no_reference);
    CHECK(told.kind == ReferenceKind::wheel);
    CHECK_FALSE(has_notice(told.notices, "wheel-place-unknown"));
}

TEST_CASE("angle: the analysed channel as its own sync -> refused, with the remedy") {
    const signals::Crank crank;
    for (const char* sync : {"Clamp", "1"}) {
        try {
            (void)angle_of(signals::clamp_and_sync(crank), crank.layout, {.sync = sync});
            FAIL("nothing was refused");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            CHECK(error.remedy().find("--sync") != std::string::npos);
        }
    }
}

TEST_CASE("angle: one mark only -> no reference, with the remedy") {
    signals::Crank crank;
    crank.speed_rpm = 40;
    crank.cranking_s = 3;
    const CrankAngle angle = angle_of(signals::clamp_and_sync(crank), crank.layout, {.sync = "Cam"});
    REQUIRE(angle.no_reference);
}

TEST_CASE("angle: a mark every 360 degrees -> two candidates and no single name") {
    CrankAngle angle{.kind = ReferenceKind::sync};
    angle.once_per_turn = true;
    const auto names = cylinder_names(angle, make_layout({}, {1, 3, 4, 2}, {}, {}));
    CHECK_FALSE(names[1].cylinder);
    CHECK(names[1].possible == std::vector{3, 2});
    CHECK(names[1].label == "cylinder 3 or 2");
}

TEST_CASE("angle: a mark every turn or every other, six and eight cylinders slow and fast -> told apart" *
          test::once) {
    for (const int cylinders : {6, 8})
        for (const double rpm : {90.0, 130.0, 180.0, 260.0})
            for (const SyncKind sync : {SyncKind::once_per_turn, SyncKind::once_per_cycle}) {
                CAPTURE(cylinders);
                CAPTURE(rpm);
                CAPTURE(static_cast<int>(sync));
                SynthOptions options;
                options.engine.layout = make_layout(cylinders, {}, {}, {});
                options.engine.speed_rpm = rpm;
                options.chain.sync = sync;
                options.chain.rate_hz = 2000;
                const SynthResult made = synthesise(options, 2);
                const Trace trace = pick(made.recording, {.channel = "Clamp"});
                const CrankAngle angle =
                    reference(made.recording, trace, locate(trace), options.engine.layout, {.sync = "Sync"});
                CHECK(angle.once_per_turn == (sync == SyncKind::once_per_turn));
                CHECK(std::abs(angle.speed_rpm / made.truth.speed_rpm - 1) < 0.02);  // whole turns of a swing
            }
}

namespace {

/// A twin, cranked; `dead`: position 1 holds no pressure.
SynthResult made_twin(std::vector<double> intervals_deg, double rpm, SyncKind sync, bool dead) {
    SynthOptions options;
    options.engine.layout = make_layout({}, {}, std::move(intervals_deg), {});
    options.engine.speed_rpm = rpm;
    if (dead)
        options.engine.faults = {{.position = 1, .kind = FaultKind::rings, .amount = 60, .neighbour = {}}};
    options.chain.sync = sync;
    options.chain.rate_hz = 2000;
    return synthesise(options, 3);
}

/// Over whole settled cycles, as the angle counts them; the truth's own speed has parts of cycles.
double whole_cycles_rpm(const SynthTruth& truth) {
    std::vector<double> tdc_s;
    for (const SynthEvent& event : truth.events)
        if (event.position == 0 && event.tdc_s >= truth.settled_s) tdc_s.push_back(event.tdc_s);
    return 120 * static_cast<double>(tdc_s.size() - 1) / (tdc_s.back() - tdc_s.front());
}

CrankAngle angle_of(const SynthResult& made, const EngineLayout& layout) {
    const Trace trace = pick(made.recording, {.channel = "Clamp"});
    return reference(made.recording, trace, locate(trace), layout, {.sync = "Sync"});
}

}  // namespace

TEST_CASE(
    "angle: an even twin with one hump from mark to mark -> its width tells a dead cylinder from a mark a "
    "turn") {
    const EngineLayout layout = make_layout(2, {}, {}, {});
    for (const double rpm : {150.0, 200.0, 260.0, 300.0}) {
        CAPTURE(rpm);
        const SynthResult made = made_twin({360, 360}, rpm, SyncKind::once_per_cycle, true);
        const CrankAngle angle = angle_of(made, layout);
        CHECK_FALSE(angle.once_per_turn);
        CHECK(std::abs(angle.speed_rpm / whole_cycles_rpm(made.truth) - 1) < 0.02);
    }
    for (const double rpm : {60.0, 90.0, 110.0, 150.0, 250.0}) {
        CAPTURE(rpm);
        const SynthResult made = made_twin({360, 360}, rpm, SyncKind::once_per_turn, false);
        const CrankAngle angle = angle_of(made, layout);
        CHECK(angle.once_per_turn);
        CHECK(std::abs(angle.speed_rpm / whole_cycles_rpm(made.truth) - 1) < 0.02);
    }
}

TEST_CASE(
    "angle: a dead cylinder of a fast even twin -> where the hump could be either, no verdict and why") {
    const SynthResult made = made_twin({360, 360}, 370, SyncKind::once_per_cycle, true);
    const EngineLayout layout = make_layout(2, {}, {}, {});
    const CrankAngle angle = angle_of(made, layout);
    REQUIRE(angle.no_reference);
    CHECK(angle.notices.empty());  // none that is sure of it
    const Trace trace = pick(made.recording, {.channel = "Clamp"});
    CHECK(estimate(trace, locate(trace), angle, layout).inconclusive == angle.no_reference);
    // Sound, at the speed at which its marks come as often.
    const SynthResult sound = made_twin({360, 360}, 185, SyncKind::once_per_turn, false);
    CHECK_FALSE(angle_of(sound, layout).no_reference);
}

TEST_CASE("angle: an uneven twin, marked every turn or every other, sound or not -> told apart" *
          test::once) {
    const std::vector<std::vector<double>> twins = {{270, 450}, {540, 180}, {315, 405}};
    for (std::size_t i = 0; i < twins.size(); ++i)
        for (const double rpm : {160.0, 200.0, 280.0})
            for (const SyncKind sync : {SyncKind::once_per_turn, SyncKind::once_per_cycle})
                for (const bool dead : {false, true}) {
                    CAPTURE(i);
                    CAPTURE(rpm);
                    CAPTURE(static_cast<int>(sync));
                    CAPTURE(dead);
                    const CrankAngle angle =
                        angle_of(made_twin(twins[i], rpm, sync, dead), make_layout({}, {}, twins[i], {}));
                    CHECK(angle.once_per_turn == (sync == SyncKind::once_per_turn));
                }
}

TEST_CASE("angle: a lead of more than a cycle -> refused") {
    const signals::Crank crank;
    const Recording recording = signals::clamp_and_sync(crank);
    const double not_a_number = std::numeric_limits<double>::quiet_NaN();
    for (const double lead_deg : {-720.5, 1e18, not_a_number}) {
        CAPTURE(lead_deg);
        CHECK_THROWS_AS((void)angle_of(recording, crank.layout, {.sync = "Cam", .sync_lead_deg = lead_deg}),
                        Error);
        CHECK_THROWS_AS((void)angle_of(recording, crank.layout, {.wheel_lead_deg = lead_deg}), Error);
    }
    CHECK_FALSE(angle_of(recording, crank.layout, {.sync = "Cam", .sync_lead_deg = -720}).no_reference);
}

TEST_CASE("angle: no reference, a few samples a compression -> an angle that ascends, or none") {
    signals::Crank crank{.before_s = 5, .cranking_s = 60, .after_s = 5, .noise_a = 20};
    for (const double rate_hz : {6.0, 8.0, 12.0, 20.0})
        for (const int cylinders : {1, 2, 3}) {
            CAPTURE(rate_hz);
            CAPTURE(cylinders);
            crank.rate_hz = rate_hz;
            crank.layout = make_layout(cylinders, {}, {}, {});
            const CrankAngle angle = angle_of(
                signals::recording(rate_hz,
                                   {{.name = "Clamp", .unit = "A", .values = signals::current_a(crank, 10)}}),
                crank.layout, {});
            if (angle.no_reference) continue;
            CHECK(std::adjacent_find(angle.angle_deg.begin(), angle.angle_deg.end(),
                                     std::greater_equal<>()) == angle.angle_deg.end());
            CHECK(angle.speed_rpm > 0);
        }
}
