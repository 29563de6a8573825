// What keeps a verdict from resting on a figure that no engine has, or on a trace that says less than the
// pressure did; and a cylinder so dead that no model follows it. Recordings of the invented engine
// (simulation).
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"
#include "evenstroke/synth.hpp"
#include "pressure/plausible.hpp"
#include "pressure_scene.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

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

bool tests_next(const PressureFindings& f, const std::string& code) {
    return std::any_of(f.next_tests.begin(), f.next_tests.end(),
                       [&](const NextTest& t) { return t.code == code; });
}

std::vector<float>& readings(SynthResult& made) {
    return made.recording.channels[0].values;
}

/// A fitted cylinder by hand, sound but for what a test changes.
Pressure fitted() {
    Pressure p;
    p.kind = PressureKind::motored;
    p.geometry_known = true;
    p.knot_s = {0};
    p.knot_deg = {0};
    p.sealed_ratio = Figure{0.95, 0.9, 1};
    p.trapped_ratio = Figure{0.9, 0.87, 0.93};
    return p;
}

}  // namespace

TEST_CASE(
    "pressure gates: a compression ratio far too low -> no verdict, the impossible figure and what to "
    "check" *
    test::once) {
    const SynthOptions options = held_by_a_transducer();
    PressureOptions known = dimensions_of(options.engine.geometry);
    const SynthResult made = synthesise(options, 51);
    REQUIRE(judged(measure_pressure(made.recording, known), known).outcome == PressureVerdict::sealing);
    CHECK_FALSE(has_notice(measure_pressure(made.recording, known).notices, "overfull"));
    known.compression_ratio = 8;  // a slip that changes the verdict little, but shows
    CHECK(has_notice(measure_pressure(made.recording, known).notices, "overfull"));
    int seen = 0;
    for (const double wrong : {6.0, 6.5, 7.0}) {
        CAPTURE(wrong);
        known.compression_ratio = wrong;
        const Pressure p = measure_pressure(made.recording, known);
        const PressureFindings f = judged(p, known);
        CHECK(f.outcome == PressureVerdict::inconclusive);
        CHECK(f.headline == "No verdict: " + f.no_verdict.value_or(""));
        CHECK(!p.leak_mm2);
        CHECK(!p.sealed_ratio);
        CHECK(tests_next(f, "check-dimensions"));
        if (!has_notice(p.notices, "implausible"))
            continue;  // the worse, the less any compression follows it
        ++seen;
        CHECK(f.headline.find("trapped charge of 1") != std::string::npos);
        CHECK(f.headline.find("--compression-ratio") != std::string::npos);
    }
    CHECK(seen > 0);
}

TEST_CASE(
    "pressure gates: one figure that no engine has -> named; engines' figures, a great leak's too -> none") {
    const auto reason = [](const Pressure& p) { return pressure::implausible(p).value_or(""); };
    CHECK(reason(fitted()).empty());
    Pressure p = fitted();
    p.trapped_ratio = Figure{2.62, 2.5, 2.7};
    CHECK(reason(p).find("trapped charge of 262 %") != std::string::npos);
    p = fitted();
    for (const double engine : {5.0, 9.5, 22.5, 25.0}) {
        p.compression_ratio = Figure{engine, engine, engine};
        CHECK(reason(p).empty());
    }
    p.compression_ratio = Figure{63.7, 50, 80};
    CHECK(reason(p).find("compression ratio of 63.7") != std::string::npos);
    p.ratio_known = true;  // given, not found
    CHECK(reason(p).empty());
    p = fitted();
    p.compression_exponent = Figure{0.9, 0.85, 0.95};
    CHECK(reason(p).find("exponent of 0.90 in compression") != std::string::npos);
    p.sealed_ratio = Figure{0.15, 0.1, 0.2};  // so great a leak flattens it
    CHECK(reason(p).empty());
}

TEST_CASE(
    "pressure gates: a loss that does not bend the expansion as a leak does -> no cylinder is condemned") {
    // Made by hand after simulated cylinders: sound ones with a starting decompressor that lets go 55 degrees
    // before TDC (exponents 1.15 and 1.14), and one of 1.6 mm2 (1.20 and 1.51).
    const auto outcome = [](double compression, double expansion) {
        Pressure p = fitted();
        p.sealed_ratio = Figure{0.55, 0.45, 0.66};
        p.compression_exponent = Figure{compression, compression - 0.02, compression + 0.02};
        p.expansion_exponent = Figure{expansion, expansion - 0.02, expansion + 0.02};
        return judge_pressure(p).outcome;
    };
    CHECK(outcome(1.15, 1.14) == PressureVerdict::inconclusive);
    CHECK(outcome(1.20, 1.51) == PressureVerdict::leaking);
}

TEST_CASE("pressure gates: a dead cylinder that no model follows -> low compression, with its figures") {
    for (const double leak_mm2 : {25.0, 40.0}) {
        CAPTURE(leak_mm2);
        SynthOptions options = held_by_a_transducer();
        options.engine.faults = {{1, FaultKind::exhaust_valve, leak_mm2}};
        const PressureOptions known = dimensions_of(options.engine.geometry);
        const SynthResult made = synthesise(options, 52);
        for (const PressureOptions& given : {known, PressureOptions{}}) {
            const PressureFindings f = judged(measure_pressure(made.recording, given), given);
            CHECK(f.outcome == PressureVerdict::low_compression);
            CHECK(f.headline.find("psi gauge, below the 90 psi") != std::string::npos);
            for (const char* code : {"wet-test", "leak-down"}) CHECK(tests_next(f, code));
        }
    }
}

TEST_CASE(
    "pressure gates: low peaks that are a throttle's or a zero's doing, or keep their charge -> no cylinder "
    "is condemned") {
    Pressure dead = fitted();
    dead.knot_s.clear();
    dead.knot_deg.clear();
    dead.sealed_ratio.reset();
    dead.bare = BarePressure{6, 77, 0.36, 0.1, 0};
    REQUIRE(judge_pressure(dead).outcome == PressureVerdict::low_compression);
    SUBCASE("throttle closed") {
        dead.bare->intake_drop_kpa = 60;
        CHECK(judge_pressure(dead).headline.find("hold the throttle wide open") != std::string::npos);
    }
    SUBCASE("zero and unit doubtful") {
        dead.bare->level_off_kpa = -85;
        CHECK(judge_pressure(dead).headline.find("check unit and scale") != std::string::npos);
    }
    SUBCASE("too few compressions") {
        dead.bare->count = 2;
    }
    SUBCASE("the charge is kept") {
        dead.bare->undershoot_ratio = 0.05;
    }
    SUBCASE("an engine that runs on it") {
        dead.bare->gauge_peak_kpa = 90.1 * 6.894757;
    }
    CHECK(judge_pressure(dead).outcome == PressureVerdict::inconclusive);
}

TEST_CASE(
    "pressure gates: tops cut off by the range -> that is the reason, and a larger range the next test") {
    const SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    for (const float share : {0.95F, 0.7F, 0.4F}) {
        CAPTURE(share);
        SynthResult made = synthesise(options, 54);
        const float rail = share * *std::max_element(readings(made).begin(), readings(made).end());
        for (float& v : readings(made)) v = std::min(v, rail);
        const PressureFindings f = judged(measure_pressure(made.recording, known), known);
        CHECK(f.outcome == PressureVerdict::inconclusive);
        CHECK(f.headline.find("tops reach the end of the range") != std::string::npos);
        CHECK(tests_next(f, "larger-range"));
        CHECK_FALSE(tests_next(f, "repeat-capture"));
    }
}

TEST_CASE("pressure gates: equal quantised peaks, one over-range sample, lone holes -> read all the same" *
          test::once) {
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
    CHECK_FALSE(has_notice(p.notices, "clipped"));
    CHECK_FALSE(has_notice(p.notices, "gaps"));
    if (notice != nullptr) CHECK(has_notice(p.notices, notice));
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
    CHECK_FALSE(has_notice(measure_pressure(made.recording).notices, "stuck"));
    std::vector<float>& kpa = readings(made);
    std::fill(kpa.begin() + 8000, kpa.end(), kpa[8000]);
    const Pressure p = measure_pressure(made.recording);
    REQUIRE(has_notice(p.notices, "stuck"));
    for (const Notice& n : p.notices)
        if (n.code == "stuck") CHECK(n.text.starts_with("From 2.00 s on"));
}

TEST_CASE("pressure gates: an interval that holds the limit -> said, and what narrows it") {
    Pressure p = fitted();
    p.sealed_ratio = Figure{0.9, 0.7, 1};
    const PressureFindings free = judge_pressure(p);
    CHECK(free.headline.find("between 70 and 100 %") != std::string::npos);
    CHECK(tests_next(free, "give-ratio"));
    CHECK_FALSE(tests_next(free, "repeat-capture"));
    p.ratio_known = true;
    const PressureFindings given = judge_pressure(p);
    CHECK(given.headline.find("--compression-ratio") == std::string::npos);
    CHECK(tests_next(given, "repeat-capture"));
}

TEST_CASE(
    "pressure gates: a sound cylinder's psi taken for kPa -> its peaks are low, but it is not condemned") {
    SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    SynthResult made = synthesise(options, 53);
    for (float& v : readings(made)) v = (v - 99) / 6.895F;
    const Pressure p = measure_pressure(made.recording, known);
    REQUIRE(p.bare);
    CHECK(p.bare->gauge_peak_kpa < 90 * 6.894757);
    CHECK(p.bare->undershoot_ratio < 0.1);
    CHECK(judged(p, known).outcome == PressureVerdict::inconclusive);
}

TEST_CASE(
    "pressure gates: an AC-coupled transducer of a sound cylinder -> below vacuum, no verdict, and why" *
    test::once) {
    const SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    const SynthResult sound = synthesise(options, 57);
    CHECK_FALSE(has_notice(measure_pressure(sound.recording, known).notices, "below-vacuum"));
    for (const double corner_hz : {10.0, 20.0, 50.0}) {
        CAPTURE(corner_hz);
        SynthResult made = sound;
        std::vector<float>& kpa = readings(made);
        const double keep = 1 / (1 + 2 * pi * corner_hz / made.recording.rate_hz);
        double before = static_cast<double>(kpa.front()), passed = 0;
        for (float& v : kpa) {
            passed = keep * (passed + static_cast<double>(v) - before);
            before = static_cast<double>(v);
            v = static_cast<float>(passed);
        }
        const Pressure p = measure_pressure(made.recording, known);
        const PressureFindings f = judged(p, known);
        CHECK(f.outcome == PressureVerdict::inconclusive);
        // Above that little is left, and that little stays above vacuum.
        CHECK(has_notice(p.notices, "below-vacuum") == (corner_hz < 50));
        CHECK_FALSE(p.sealed_ratio);
    }
}

TEST_CASE("pressure gates: a throttle that is shut -> as little charge as the peaks show, and no leak" *
          test::once) {
    SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    const SynthResult open = synthesise(options, 58);
    const Pressure full = measure_pressure(open.recording, known);
    REQUIRE(full.trapped_ratio);
    const auto absolute_kpa = [&](const SynthResult& made) {
        return made.truth.peak_kpa[1] + options.engine.ambient_kpa;
    };
    for (const double opening_mm2 : {8.0, 16.0}) {
        CAPTURE(opening_mm2);
        options.engine.throttle_mm2 = opening_mm2;
        const SynthResult made = synthesise(options, 58);
        const Pressure p = measure_pressure(made.recording, known);
        REQUIRE(p.trapped_ratio);
        REQUIRE(p.sealed_ratio);
        // One cylinder, one temperature: its peaks are in proportion to its charge, heat apart.
        const double share = absolute_kpa(made) / absolute_kpa(open);
        CHECK(p.trapped_ratio->value / full.trapped_ratio->value == doctest::Approx(share).epsilon(0.12));
        CHECK(p.sealed_ratio->high > 0.9);
        CHECK(judged(p, known).outcome != PressureVerdict::leaking);
        if (share < 0.75) CHECK(judged(p, known).outcome == PressureVerdict::low_charge);
    }
}

TEST_CASE(
    "pressure gates: a piston that stays low -> the ratio that fits, never a sound cylinder by the book") {
    SynthOptions options = held_by_a_transducer();
    options.engine.inertia_kg_m2 = 0.5;
    PressureOptions known = dimensions_of(options.engine.geometry);
    const double given = *known.compression_ratio;
    for (const double own : {0.6, 0.75, 1.0}) {
        CAPTURE(own);
        options.engine.geometry.compression_ratio = 1 + own * (given - 1);
        const SynthResult made = synthesise(options, 59);
        const Pressure p = measure_pressure(made.recording, known);
        const PressureFindings f = judged(p, known);
        REQUIRE(p.compression_ratio);
        CHECK(has_notice(p.notices, "lower-ratio") == (own < 1));
        CHECK(p.compression_ratio->value ==
              doctest::Approx(options.engine.geometry.compression_ratio).epsilon(0.06));
        if (own < 1) CHECK(f.outcome == PressureVerdict::inconclusive);
        CHECK(tests_next(f, "piston-height") == (own < 1));
    }
}

TEST_CASE("pressure gates: a cylinder that leaks all it has -> never sealing with a lower ratio" *
          test::once) {
    SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    for (const double mm2 : {5.0, 10.0, 20.0, 40.0}) {
        CAPTURE(mm2);
        options.engine.faults = {
            {.position = 1, .kind = FaultKind::exhaust_valve, .amount = mm2, .neighbour = {}}};
        const Pressure p = measure_pressure(synthesise(options, 60).recording, known);
        CHECK(judged(p, known).outcome != PressureVerdict::sealing);
        CHECK_FALSE(has_notice(p.notices, "lower-ratio"));
    }
}

TEST_CASE(
    "pressure gates: a cylinder that leaks in every third cycle -> no verdict from the others, and why") {
    const SynthOptions options = held_by_a_transducer(6);
    const PressureOptions known = dimensions_of(options.engine.geometry);
    SynthResult made = synthesise(options, 61);
    CHECK_FALSE(measure_pressure(made.recording, known).unfitted);
    // Every third compression halved, with its cycle: what a sticking valve leaves of it.
    std::vector<double> tdc_s;
    for (const SynthEvent& event : made.truth.events)
        if (event.position == 1) tdc_s.push_back(event.tdc_s);
    REQUIRE(tdc_s.size() > 6);
    std::vector<float>& kpa = readings(made);
    const double rate_hz = made.recording.rate_hz, ambient_kpa = options.engine.ambient_kpa;
    const double half_s = 0.15 * (tdc_s[4] - tdc_s[3]);
    for (std::size_t k = 2; k < tdc_s.size(); k += 3)
        for (auto i = static_cast<std::size_t>((tdc_s[k] - half_s - made.recording.start_s) * rate_hz);
             i < static_cast<std::size_t>((tdc_s[k] + half_s - made.recording.start_s) * rate_hz) &&
             i < kpa.size();
             ++i)
            kpa[i] = static_cast<float>(ambient_kpa + 0.5 * (static_cast<double>(kpa[i]) - ambient_kpa));
    const Pressure p = measure_pressure(made.recording, known);
    const PressureFindings f = judged(p, known);
    CHECK(f.outcome == PressureVerdict::inconclusive);
    CHECK(f.headline.find("leaks now and then") != std::string::npos);
    CHECK_FALSE(has_notice(p.notices, "run-down"));
    CHECK(p.pulses.size() + 1 >= tdc_s.size());
}

TEST_CASE("pressure gates: a gauge transducer with a floor -> said; no leak is missed, and none is invented" *
          test::once) {
    SynthOptions options = held_by_a_transducer();
    options.chain.transducer.gauge = true;
    const PressureOptions known = dimensions_of(options.engine.geometry);
    const auto outcome_above = [&](float floor_kpa, double leak_mm2) {
        options.engine.faults.clear();
        if (leak_mm2 > 0)
            options.engine.faults = {
                {.position = 1, .kind = FaultKind::exhaust_valve, .amount = leak_mm2, .neighbour = {}}};
        SynthResult made = synthesise(options, 62);
        CHECK_FALSE(has_notice(measure_pressure(made.recording, known).notices, "floor"));
        for (float& v : readings(made)) v = std::max(v, floor_kpa);
        const Pressure p = measure_pressure(made.recording, known);
        CHECK((leak_mm2 == 0 || has_notice(p.notices, "floor")));
        return judged(p, known).outcome;
    };
    for (const float floor_kpa : {0.0F, -5.0F}) {
        CAPTURE(floor_kpa);
        CHECK(outcome_above(floor_kpa, 0) != PressureVerdict::leaking);
        for (const double leak_mm2 : {2.0, 3.0, 4.0})
            CHECK(outcome_above(floor_kpa, leak_mm2) != PressureVerdict::sealing);
    }
}

TEST_CASE(
    "pressure gates: several channels of pressure -> the cylinder's is taken and said, or the one named") {
    const SynthOptions options = held_by_a_transducer();
    Recording recording = synthesise(options, 61).recording;
    const std::size_t count = recording.channels[0].values.size();
    Channel intake{.name = "MAP", .unit = "kPa"}, rail{.name = "Rail", .unit = "bar"};
    for (std::size_t i = 0; i < count; ++i) {
        intake.values.push_back(static_cast<float>(90 + 10 * std::sin(0.01 * static_cast<double>(i))));
        rail.values.push_back(static_cast<float>(i < count / 4 ? 0 : 300));  // a diesel's, from memory
    }
    recording.channels.insert(recording.channels.begin(), {intake, rail});
    const Pressure p = measure_pressure(recording);
    CHECK(p.channel == recording.channels[2].name);
    REQUIRE(has_notice(p.notices, "channel-chosen"));
    for (const Notice& n : p.notices)
        if (n.code == "channel-chosen") {
            CHECK(n.text.find("\"MAP\" (20 kPa)") != std::string::npos);
            CHECK(n.text.find("\"Rail\" (30000 kPa)") != std::string::npos);
            CHECK(n.text.find("--channel") != std::string::npos);
        }
    const Pressure named = measure_pressure(recording, {.channel = "MAP"});
    CHECK(named.channel == "MAP");
    CHECK_FALSE(has_notice(named.notices, "channel-chosen"));
    CHECK_FALSE(has_notice(measure_pressure(synthesise(options, 61).recording).notices, "channel-chosen"));
}

TEST_CASE("pressure gates: proportions that no engine has -> named, not refused") {
    const Recording recording = synthesise(held_by_a_transducer(), 62).recording;
    const auto said = [&](double bore_mm, double stroke_mm, double rod_mm) {
        PressureOptions known;
        known.bore_m = bore_mm / 1000;
        known.stroke_m = stroke_mm / 1000;
        known.rod_m = rod_mm / 1000;
        std::string names;
        for (const Notice& n : measure_pressure(recording, known).notices)
            if (n.code == "odd-proportions") names += n.text.substr(0, 6) + " ";
        return names;
    };
    CHECK(said(86, 86, 143.5).empty());
    CHECK(said(67, 42, 102).empty());         // a small twin, rod 2.43 times the stroke
    CHECK(said(143.5, 86, 86) == "--rod  ");  // bore and rod swapped
    CHECK(said(86, 143.5, 86 * 1.1) == "--rod  ");
    CHECK(said(200, 86, 143.5) == "--bore ");
    CHECK(said(860, 86, 1435) == "--rod  --bore ");
}

TEST_CASE("pressure gates: an absolute transducer far from the assumed ambient -> zero or altitude is named" *
          test::once) {
    SynthOptions options = held_by_a_transducer();
    const PressureOptions known = dimensions_of(options.engine.geometry);
    const auto hint = [](const Pressure& p, const PressureOptions& said) {
        for (const Finding& f : judged(p, said).findings)
            if (f.code == "offset-or-altitude") return f.text;
        return std::string();
    };
    CHECK(hint(measure_pressure(synthesise(options, 63).recording, known), known).empty());
    options.engine.ambient_kpa = 80;  // as at 1950 m
    const Recording high = synthesise(options, 63).recording;
    const Pressure p = measure_pressure(high, known);
    REQUIRE(p.sensor_offset_kpa);
    REQUIRE(p.sensor_offset_kpa->value < -10);
    CHECK(hint(p, known).find("--altitude") != std::string::npos);
    CHECK(hint(p, known).find("less than the assumed 100 kPa") != std::string::npos);
    PressureOptions placed = known;
    placed.altitude_m = 1950;
    CHECK(hint(measure_pressure(high, placed), placed).empty());
    options.engine.ambient_kpa = 99;
    Recording off = synthesise(options, 63).recording;
    for (float& v : off.channels[0].values) v += 20;
    CHECK(hint(measure_pressure(off, known), known).find("more than the assumed") != std::string::npos);
}

TEST_CASE("pressure gates: the altitude of an ambient pressure -> the one that it was computed from") {
    for (const double altitude_m : {-200.0, 0.0, 1950.0, 5500.0})
        CHECK(std::abs(altitude_of_m(ambient_at_kpa(altitude_m)) - altitude_m) < 1e-6);  // rounding alone
}

TEST_CASE("pressure gates: a scale or an offset beyond every number -> refused as such, not as a flat line") {
    const Recording recording = synthesise(held_by_a_transducer(), 61).recording;
    for (const PressureOptions& options :
         {PressureOptions{.scale = 1e300}, PressureOptions{.offset_kpa = -1e300}}) {
        try {
            (void)measure_pressure(recording, options);
            FAIL("not refused");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            CHECK(error.remedy().find("--offset") != std::string::npos);
        }
    }
}

TEST_CASE("pressure gates: an absolute level that no place on earth has -> its zero, and no altitude") {
    SynthResult made = synthesise(held_by_a_transducer(), 61);
    PressureOptions options = dimensions_of({});
    options.zero = PressureZero::absolute;
    const auto said = [&](double offset_kpa) {
        options.offset_kpa = offset_kpa;
        for (const Finding& f : judged(measure_pressure(made.recording, options), options).findings)
            if (f.code == "offset-or-altitude") return f.text;
        return std::string();
    };
    // In 4000 m stand 62 kPa.
    CHECK(said(-38).find("the place is high") != std::string::npos);
    for (const double offset_kpa : {-300.0, -5000.0}) {
        CAPTURE(offset_kpa);
        CHECK(said(offset_kpa).find("no place is so high") != std::string::npos);
    }
}

TEST_CASE("pressure gates: readings too small for any pressure -> no first pulse over nothing") {
    SynthResult made = synthesise(held_by_a_transducer(), 61);
    const Pressure p = measure_pressure(made.recording, {.scale = 1e-30});
    CHECK_FALSE(p.first_pulse_ratio);
}

TEST_CASE("pressure gates: a swing too small to fit, far below an absolute zero -> no peak below nothing" *
          test::once) {
    SynthResult made = synthesise(held_by_a_transducer(), 61);
    for (float& v : readings(made)) v = 100 + (v - 100) / 50;  // a factor off by so much
    for (const PressureZero zero : {PressureZero::automatic, PressureZero::absolute}) {
        const Pressure p = measure_pressure(made.recording, {.offset_kpa = -500, .zero = zero});
        CHECK(p.unfitted);
        CHECK_FALSE(p.peak_kpa);
    }
    // Where no zero is lost the same swing has its peak.
    CHECK(measure_pressure(made.recording, {.zero = PressureZero::absolute}).peak_kpa);
}

TEST_CASE("pressure gates: a time axis that no starter is as slow on -> no verdict, and the unit to check") {
    const SynthOptions options = held_by_a_transducer();
    const Recording recording = synthesise(options, 61).recording;
    const PressureOptions known = dimensions_of(options.engine.geometry);
    for (const double times : {20.0, 100.0, 1000.0, 1e4}) {
        CAPTURE(times);
        Recording slow = recording;
        slow.rate_hz /= times;
        slow.recorded_rate_hz /= times;
        slow.duration_s *= times;
        const Pressure p = measure_pressure(slow, known);
        REQUIRE(p.inconclusive);
        CHECK(p.inconclusive->find("check the unit of the time column") != std::string::npos);
        CHECK_FALSE(p.tdc_known());
        CHECK(judged(p, known).outcome == PressureVerdict::inconclusive);
    }
}
