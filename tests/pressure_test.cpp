// In-cylinder pressure: what is put in by the gas model of the library's own tests must come out again.
#include "evenstroke/pressure.hpp"
#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <string>
#include "evenstroke/findings.hpp"
#include "evenstroke/synth.hpp"
#include "pressure/valves.hpp"
#include "pressure_scene.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

constexpr double rate_hz = 10'000, rpm = 200, noise_kpa = 1;

/// A polytrope with both valves shut, p = 100 (V at closing / V)^1.32, open to 100 kPa else, at steady speed:
/// no loss, so the peak stands at TDC. `shift_s`: time of the first firing TDC.
Recording polytropic(double seconds, double shift_s, double offset_kpa, double expansion_gain = 1) {
    const Geometry g;
    Channel channel{.name = "P", .unit = "kPa"};
    const double closing = volume_m3(g, -125 * pi / 180);
    for (int i = 0; i < static_cast<int>(seconds * rate_hz); ++i) {
        double a = std::fmod((i / rate_hz - shift_s) * rpm * 6 + 360 + 7200, 720.0) - 360;
        double p = 100;
        if (a > -125 && a < 135) p = 100 * std::pow(closing / volume_m3(g, a * pi / 180), 1.32);
        if (a > 0 && a < 135) p *= expansion_gain;
        p += noise_kpa * std::sin(12345.678 * i * static_cast<double>(i));
        channel.values.push_back(static_cast<float>(p + offset_kpa));
    }
    Recording recording{
        .path = "made", .rate_hz = rate_hz, .recorded_rate_hz = rate_hz, .duration_s = seconds};
    recording.channels.push_back(channel);
    return recording;
}

PressureOptions default_geometry() {
    return dimensions_of({});
}

/// One transducer in this engine, and nothing else recorded.
void hold_transducer(SynthOptions& drawn, int position, double samples_hz) {
    drawn.chain.current = drawn.chain.battery = false;
    drawn.chain.sync = SyncKind::none;
    drawn.chain.pressure_position = position;
    drawn.chain.rate_hz = samples_hz;
}

}  // namespace

TEST_CASE("pressure: a steady polytrope -> every compression, its period and its peak") {
    const auto p = measure_pressure(polytropic(4, 0.5, 0), default_geometry());
    REQUIRE(p.kind == PressureKind::motored);
    CHECK(p.pulses.size() == 6);
    CHECK_FALSE(has_notice(p.notices, "uneven"));
    REQUIRE(p.speed_rpm);
    CHECK(std::abs(p.speed_rpm->value - rpm) < 0.2);  // 0.1 %: peaks are found to far less than a sample
    REQUIRE(p.peak_kpa);
    const Geometry g;
    const double peak = 100 * std::pow(volume_m3(g, -125 * pi / 180) / volume_m3(g, 0), 1.32);
    CHECK(std::abs(p.peak_kpa->value - peak) < 0.01 * peak);
    for (const auto& pulse : p.pulses) CHECK(std::abs(std::fmod(pulse.peak_s - 0.5 + 0.3, 0.6) - 0.3) < 1e-4);
}

TEST_CASE("pressure: gauge readings -> recognised, and the same absolute peak" * test::once) {
    const auto absolute = measure_pressure(polytropic(4, 0.5, 0), default_geometry());
    const auto gauge = measure_pressure(polytropic(4, 0.5, -100), default_geometry());
    CHECK_FALSE(absolute.gauge);
    CHECK(gauge.gauge);
    CHECK(std::abs(absolute.peak_kpa->value - gauge.peak_kpa->value) < 5);
}

TEST_CASE("pressure: no dimensions, or a zero far from both kinds -> said; neither -> not") {
    const auto said = [](const Pressure& p) {
        return std::pair{has_notice(p.notices, "no-geometry"), has_notice(p.notices, "zero-unknown")};
    };
    CHECK(said(measure_pressure(polytropic(1.5, 0.5, 0), default_geometry())) == std::pair{false, false});
    CHECK(said(measure_pressure(polytropic(1.5, 0.5, 0))) == std::pair{true, false});
    CHECK(said(measure_pressure(polytropic(1.5, 0.5, 150), default_geometry())) == std::pair{false, true});
}

TEST_CASE(
    "pressure: two compressions, each cut off by the recording's end -> nothing fitted, and it is said") {
    // 60 degrees of crank take 50 ms at 200 rpm, a cycle 600 ms.
    const auto cut = measure_pressure(polytropic(0.7, 0.05, 0), default_geometry());
    CHECK(has_notice(cut.notices, "no-whole-pulse"));
    CHECK(cut.unfitted);
    CHECK_FALSE(cut.tdc_known());
    const auto whole = measure_pressure(polytropic(1.2, 0.3, 0), default_geometry());
    CHECK_FALSE(has_notice(whole.notices, "no-whole-pulse"));
    CHECK(whole.tdc_known());
}

TEST_CASE("pressure: a compression long before the others -> left out, and it is said") {
    Recording recording = polytropic(4, 0.5, 0);
    // The second and the third, at 1.1 and 1.7 s, are taken out.
    const auto at = [&](double time_s) {
        return recording.channels[0].values.begin() + static_cast<std::ptrdiff_t>(time_s * rate_hz);
    };
    std::fill(at(0.85), at(1.95), 100.0F);
    const Pressure p = measure_pressure(recording, default_geometry());
    CHECK(has_notice(p.notices, "uneven"));
    REQUIRE_FALSE(p.pulses.empty());
    CHECK(p.pulses.front().peak_s > 2);
}

TEST_CASE("pressure: a third of it gone at once at TDC -> no compression, nothing fitted, and it is said") {
    CHECK_FALSE(has_notice(measure_pressure(polytropic(2, 0.5, 0), default_geometry()).notices, "no-fit"));
    const Pressure p = measure_pressure(polytropic(2, 0.5, 0, 0.67), default_geometry());
    CHECK(has_notice(p.notices, "no-fit"));
    CHECK(p.unfitted);
}

TEST_CASE("pressure: absolute readings called gauge -> the contradiction is said") {
    auto options = default_geometry();
    options.zero = PressureZero::gauge;
    const auto p = measure_pressure(polytropic(4, 0.5, 0), options);
    CHECK(std::any_of(p.notices.begin(), p.notices.end(),
                      [](const Notice& n) { return n.code == "zero-contradicts"; }));
}

TEST_CASE("pressure: gauge readings called absolute -> the contradiction is said, the offset takes it up") {
    auto options = default_geometry();
    options.zero = PressureZero::absolute;
    const auto p = measure_pressure(polytropic(4, 0.5, -100), options);
    CHECK(std::any_of(p.notices.begin(), p.notices.end(),
                      [](const Notice& n) { return n.code == "zero-contradicts"; }));
    REQUIRE(p.sensor_offset_kpa);
    CHECK(std::abs(p.sensor_offset_kpa->value + 100) < 6);  // the bench's bound for an offset, kPa
}

TEST_CASE("pressure: one zero taken for the other -> the exponent is right all the same" * test::once) {
    // The polytrope's own is 1.32. Taken at the stated zero it would be 1.07 or 1.77 over these angles
    // (COMPUTED: ln(p + 100)/ln V and ln(p - 100)/ln V between 80 and 20 degrees), which no gas has.
    for (const double offset_kpa : {-100.0, 0.0})
        for (const auto zero : {PressureZero::absolute, PressureZero::gauge}) {
            auto options = default_geometry();
            options.zero = zero;
            const auto p = measure_pressure(polytropic(4, 0.5, offset_kpa), options);
            REQUIRE(p.compression_exponent);
            CHECK(p.compression_exponent->value > 1.25);
            CHECK(p.compression_exponent->value < 1.45);
        }
}

TEST_CASE("pressure: time shift -> TDCs move by as much" * test::once) {
    const auto first = measure_pressure(polytropic(4, 0.5, 0), default_geometry());
    const auto later = measure_pressure(polytropic(4, 0.5 + 0.0137, 0), default_geometry());
    REQUIRE(first.pulses.size() == later.pulses.size());
    for (std::size_t i = 1; i + 1 < first.pulses.size(); ++i)
        CHECK(std::abs(*later.pulses[i].tdc_s - *first.pulses[i].tdc_s - 0.0137) < 3e-4);
}

TEST_CASE(
    "pressure: pressure that stays up after the peak -> fired at idle, either at cranking speed; no "
    "verdict") {
    Recording recording = polytropic(4, 0.5, 0, 3);
    const auto cranked = measure_pressure(recording, default_geometry());
    CHECK(cranked.kind == PressureKind::motored);
    REQUIRE(cranked.inconclusive);
    CHECK(cranked.inconclusive->find("at 200 rpm the engine fires, its crank") != std::string::npos);
    recording.rate_hz *= 2.5;
    recording.duration_s /= 2.5;
    const auto idling = measure_pressure(recording, default_geometry());
    CHECK(idling.kind == PressureKind::fired);
    for (const auto& p : {cranked, idling}) CHECK(judge_pressure(p).outcome == PressureVerdict::inconclusive);
}

TEST_CASE("pressure: one compression, a flat line, no scale -> a reason, never a figure") {
    const auto one = measure_pressure(polytropic(0.9, 0.5, 0), default_geometry());
    CHECK(one.inconclusive);
    CHECK_FALSE(one.leak_mm2);
    auto flat = polytropic(1, 0.5, 0);
    for (float& v : flat.channels[0].values) v = 100;
    CHECK_THROWS_AS((void)measure_pressure(flat), Error);
    auto volts = polytropic(4, 0.5, 0);
    volts.channels[0].unit = "V";
    CHECK_THROWS_AS((void)measure_pressure(volts), Error);
}

namespace {

/// Six levels of 0.6 s each, from 0 to `last_kpa`, in the shares that a gauge's hose fills in.
Recording staircase(double last_kpa) {
    auto stairs = polytropic(4, 0.5, 0);
    auto& values = stairs.channels[0].values;
    const double shares[] = {0, 0.52, 0.78, 0.91, 0.97, 1};
    for (std::size_t i = 0; i < values.size(); ++i)
        values[i] = static_cast<float>(last_kpa * shares[std::min<std::size_t>(5, i / 6000)]);
    return stairs;
}

}  // namespace

TEST_CASE("pressure: a check-valve gauge's staircase -> puffs, first ratio, final reading") {
    const auto p = measure_pressure(staircase(1150));
    CHECK(p.kind == PressureKind::staircase);
    REQUIRE(p.puffs_kpa_gauge.size() == 5);
    CHECK(std::abs(p.puffs_kpa_gauge.back() - 1150) < 1);
    CHECK(std::abs(*p.first_pulse_ratio - 0.52) < 0.01);
}

TEST_CASE(
    "pressure: a gauge's final reading -> good from 175 psi, too low below 90, between them no verdict") {
    // Common practice, no published source: about 90 psi is the least an engine runs on, 175 psi is good.
    constexpr double kpa_per_psi = 6.894757;  // NIST SP 811, appendix B
    const auto outcome = [&](double psi) {
        return judge_pressure(measure_pressure(staircase(psi * kpa_per_psi))).outcome;
    };
    CHECK(outcome(88) == PressureVerdict::low_compression);
    CHECK(outcome(92) == PressureVerdict::inconclusive);
    CHECK(outcome(173) == PressureVerdict::inconclusive);
    CHECK(outcome(177) == PressureVerdict::sealing);
    const auto between = judge_pressure(measure_pressure(staircase(140 * kpa_per_psi)));
    CHECK(between.headline.find("maker's figure") != std::string::npos);
    REQUIRE_FALSE(between.next_tests.empty());
    CHECK(between.next_tests[0].code == "other-cylinder");
}

TEST_CASE("pressure: a gauge too low to run on -> low compression, both rivals and what tells them apart") {
    // Common practice, no published source: oil in the cylinder for rings, the leak-down test for any leak.
    const auto low = judge_pressure(measure_pressure(staircase(60 * 6.894757)));
    CHECK(low.outcome == PressureVerdict::low_compression);
    const auto said = [](const auto& list, const std::string& code) {
        return std::any_of(list.begin(), list.end(), [&](const auto& one) { return one.code == code; });
    };
    CHECK(said(low.findings, "low-rivals"));
    for (const char* code : {"wet-test", "leak-down", "intake"}) CHECK(said(low.next_tests, code));
}

TEST_CASE(
    "pressure: a sound engine at rest within the gauge's stroke -> not condemned by its short first puff") {
    SynthOptions options;  // simulation: no fault, final reading above 175 psi
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.pressure_position = 0;
    options.chain.transducer.check_valve = true;
    options.chain.rate_hz = 1000;
    for (const double rest_deg : {640.0, 680.0}) {
        CAPTURE(rest_deg);
        options.run.start_angle_deg = rest_deg;
        const auto p = measure_pressure(synthesise(options, 5).recording);
        REQUIRE(p.first_pulse_ratio);
        CHECK(*p.first_pulse_ratio < 0.5);  // so that the rule was put to the test
        CHECK(judge_pressure(p).outcome == PressureVerdict::inconclusive);
    }
    options.run.start_angle_deg = 200;
    CHECK(judge_pressure(measure_pressure(synthesise(options, 5).recording)).outcome ==
          PressureVerdict::sealing);
}

TEST_CASE("pressure: all valves 50 and 60 degrees late -> no leak is invented, and the timing is told" *
          test::once) {
    int told = 0;
    for (const double late_deg : {50.0, 60.0})
        for (const std::uint64_t seed : {30U, 31U, 32U}) {
            CAPTURE(late_deg);
            CAPTURE(seed);
            SynthOptions options;  // simulation: a sound cylinder
            options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
            options.engine.intake_opens_deg += late_deg;
            options.engine.intake_closes_deg += late_deg;
            options.engine.exhaust_opens_deg += late_deg;
            options.engine.exhaust_closes_deg += late_deg;
            options.chain.current = options.chain.battery = false;
            options.chain.sync = SyncKind::none;
            options.chain.pressure_position = 3;
            options.chain.rate_hz = 4000;
            PressureOptions known = default_geometry();
            const Pressure p = measure_pressure(synthesise(options, seed).recording, known);
            CHECK(judge_pressure(p, known).outcome != PressureVerdict::leaking);
            known.expect_intake_closes_deg = -115;
            known.expect_exhaust_opens_deg = 130;
            told += judge_pressure(p, known).outcome == PressureVerdict::late_valves;
            const bool late = !p.leak_mm2 && p.intake_closes_interval_deg;
            CHECK(has_notice(p.notices, "late-intake") == late);
            if (!late) continue;  // not recognised: no verdict then
            // Seat to seat the intake closes 115 degrees before TDC, and so much later.
            CHECK(p.intake_closes_interval_deg->low < -115 + late_deg);
            CHECK(p.intake_closes_interval_deg->high > -115 + late_deg);
        }
    CHECK(told >= 4);  // of six: the fit may take another way, and then there is a reason instead
}

TEST_CASE(
    "pressure: sound drawn engines that the fit finds late -> no closing is given rather than a wrong one" *
    test::once) {
    // Simulation. Given were closings 46, 46 and 34 degrees late before fit and pressure had to agree with
    // them.
    const std::pair<const char*, std::uint64_t> engines[] = {
        {"twelve", 6028}, {"twelve", 6032}, {"diesel-six", 6029}};
    for (const auto& engine : engines) {
        CAPTURE(engine.second);
        SynthOptions drawn = draw_engine(engine.second, engine.first);
        drawn.engine.faults.clear();
        hold_transducer(drawn, 0, 4000);
        PressureOptions known = dimensions_of(drawn.engine.geometry);
        const SynthResult made = synthesise(drawn, engine.second);
        known.expect_intake_closes_deg = made.truth.cylinders[0].intake_closes_deg;
        const Pressure p = measure_pressure(made.recording, known);
        if (p.intake_closes_deg) CHECK(std::abs(*p.intake_closes_deg - *known.expect_intake_closes_deg) < 30);
        CHECK(judge_pressure(p, known).outcome != PressureVerdict::late_valves);
    }
}

TEST_CASE(
    "pressure: a leaking cylinder whose crank swings wide and starts to compress late -> neither is said") {
    // Simulation: the intake's closing was given 42 degrees late, which is a verdict on the cam.
    SynthOptions drawn = draw_engine(9002, "four-odd");
    hold_transducer(drawn, 1, 2000);
    PressureOptions known = dimensions_of(drawn.engine.geometry);
    const SynthResult made = synthesise(drawn, 9002);
    known.expect_intake_closes_deg = made.truth.cylinders[1].intake_closes_deg;
    const Pressure p = measure_pressure(made.recording, known);
    CHECK(std::any_of(p.notices.begin(), p.notices.end(),
                      [](const Notice& n) { return n.code == "intake-unsure"; }));
    CHECK(!p.intake_closes_deg);
    CHECK(!p.leak_mm2);
    CHECK(judge_pressure(p, known).outcome == PressureVerdict::inconclusive);
}

TEST_CASE(
    "pressure: where the mean cycle bends off the closed line -> a valve; no bend, or too high -> said") {
    // Made by hand: 150 kPa while closed; from a bend on it falls with the square of the distance.
    const auto seen = [](double closes_deg, double opens_deg, double intake_kpa) {
        Pressure p;
        for (int deg = -360; deg < 360; ++deg) {
            const double beyond = std::max({0.0, -deg - closes_deg, deg - opens_deg});
            p.cycle.pressure_kpa.push_back(deg < -170 ? intake_kpa : 150 - 0.02 * beyond * beyond);
        }
        const std::vector<double> closed_kpa(80, 150);
        pressure::set_valves(p, {-100, -1, closed_kpa}, {110, 1, closed_kpa});
        return p;
    };
    const Pressure both = seen(115, 140, 140);
    CHECK(both.notices.empty());
    // The bend is looked for every half degree, with a power a little off.
    CHECK(both.intake_closes_deg.value() == doctest::Approx(-115).epsilon(0.02));
    CHECK(both.exhaust_opens_deg.value() == doctest::Approx(140).epsilon(0.05));
    const Pressure intake_only = seen(115, 1000, 140);
    CHECK(has_notice(intake_only.notices, "no-exhaust-opening"));
    CHECK_FALSE(has_notice(intake_only.notices, "no-intake-closing"));
    CHECK_FALSE(intake_only.exhaust_opens_deg);
    for (const Pressure& exhaust_only : {seen(1000, 140, 140), seen(115, 140, 100)}) {
        CHECK(has_notice(exhaust_only.notices, "no-intake-closing"));
        CHECK_FALSE(has_notice(exhaust_only.notices, "no-exhaust-opening"));
        CHECK_FALSE(exhaust_only.intake_closes_deg);
    }
}

TEST_CASE("pressure: valve events against what was expected -> late or early beyond the limits, one test") {
    // Made by hand: a cylinder that seals, its intake closing and its exhaust opening as given.
    const auto judged = [](double closes_deg, double opens_deg) {
        Pressure p;
        p.kind = PressureKind::motored;
        p.geometry_known = true;
        p.knot_s = {0};
        p.knot_deg = {0};
        p.sealed_ratio = Figure{0.95, 0.9, 1};
        p.trapped_ratio = Figure{0.9, 0.87, 0.93};
        p.intake_closes_deg = closes_deg;
        p.exhaust_opens_deg = opens_deg;
        PressureOptions options;
        options.expect_intake_closes_deg = -115;
        options.expect_exhaust_opens_deg = 130;
        return judge_pressure(p, options);
    };
    // The limits lie above the largest errors on simulated engines, 28 and 45.4 degrees (docs/accuracy.md).
    CHECK(judged(-80, 130).outcome == PressureVerdict::sealing);
    CHECK(judged(-79, 130).outcome == PressureVerdict::late_valves);
    CHECK(judged(-150, 130).outcome == PressureVerdict::sealing);
    CHECK(judged(-151, 130).outcome == PressureVerdict::early_valves);
    CHECK(judged(-115, 180).outcome == PressureVerdict::sealing);
    CHECK(judged(-115, 181).outcome == PressureVerdict::late_valves);
    CHECK(judged(-115, 80).outcome == PressureVerdict::sealing);
    CHECK(judged(-115, 79).outcome == PressureVerdict::early_valves);
    const PressureFindings both = judged(-68, 185);
    CHECK(both.headline == "Intake closes 47 degrees later than expected.");
    const auto about = [](const auto& entries) {
        return std::count_if(entries.begin(), entries.end(),
                             [](const auto& one) { return one.code == "valve-timing"; });
    };
    CHECK(about(both.findings) == 2);
    CHECK(about(both.next_tests) == 1);
}

TEST_CASE(
    "pressure: valve events that were asked for and not found -> the headline says so, with any verdict") {
    // Made by hand: a cylinder that seals, and one whose interval holds the limit.
    for (const double low : {0.9, 0.7}) {
        CAPTURE(low);
        Pressure p;
        p.kind = PressureKind::motored;
        p.geometry_known = true;
        p.knot_s = {0};
        p.knot_deg = {0};
        p.sealed_ratio = Figure{0.95, low, 1};
        p.trapped_ratio = Figure{0.9, 0.87, 0.93};
        p.exhaust_opens_deg = 130;
        PressureOptions options;
        options.expect_exhaust_opens_deg = 130;
        const auto says = [](const PressureFindings& f, const char* text) {
            return f.headline.find(text) != std::string::npos;
        };
        const PressureFindings found = judge_pressure(p, options);
        CHECK_FALSE(says(found, "not found"));
        options.expect_intake_closes_deg = -115;
        const PressureFindings intake = judge_pressure(p, options);
        CHECK(intake.outcome == found.outcome);
        CHECK(
            says(intake, "; the intake's closing was not found, so it is not known whether it is in time."));
        if (intake.no_verdict) CHECK(intake.headline == "No verdict: " + *intake.no_verdict);
        p.exhaust_opens_deg.reset();
        CHECK(says(judge_pressure(p, options),
                   "the intake's closing and the exhaust's opening were not found"));
        CHECK_FALSE(says(judge_pressure(p), "not found"));  // not asked for
    }
}

TEST_CASE("pressure: altitude -> the standard atmosphere") {
    CHECK(std::abs(ambient_at_kpa(0) - 101.325) < 1e-9);
    // references G, COMPUTED: pressure ratio at 5000 ft is 0.8321.
    CHECK(std::abs(ambient_at_kpa(5000 * 0.3048) / 101.325 - 0.8321) < 1e-4);
}
