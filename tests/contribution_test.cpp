// The whole estimate on cycles that the forward model itself makes (simulated), where the truth is known.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "contribution/crank_model.hpp"
#include "cranking/speed_span.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/contribution.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/synth.hpp"
#include "signals.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;
using namespace evenstroke::contribution;

namespace {

struct Scene {
    Trace trace;
    Cranking cranking;
    CrankAngle angle;
    EngineLayout layout;
    std::vector<double> truth_pct;
};

struct Options {
    std::vector<double> leak_per_s = {0.05, 0.05, 0.05, 0.05};
    std::vector<double> intervals_deg = {180, 180, 180, 180};
    double rate_hz = 5000;
    double gain = 1;
    double shift_s = 0;
    double noise = 0.5;
    int cycles = 7;
};

/// Cranks an engine of the forward model for some cycles after a second of inrush that decays.
Scene make(const Options& o) {
    EngineModel m;
    m.stall = 620;
    m.mean_load = 200;
    m.mean_speed_rad_s = 22;
    m.slope_per_rad_s = (m.stall - m.mean_load) / m.mean_speed_rad_s;
    m.gas_scale = 150;
    m.crank_inertia = 1.2;
    m.starter_inertia = 1.2;
    m.friction = 110;
    Scene s;
    s.layout.intervals_deg = o.intervals_deg;
    const auto tdc = s.layout.firing_tdc_deg();
    std::vector<GasTable> tables;
    for (std::size_t c = 0; c < tdc.size(); ++c) {
        CylinderGas gas;
        gas.firing_deg = tdc[c];
        gas.leak_per_s = o.leak_per_s[c];
        m.cylinders.push_back(gas);
        tables.push_back(gas_table(gas));
    }
    CrankState state = rest_state(m);
    ModelCycle cycle;
    for (int k = 0; k < 40; ++k) run_cycle(m, tables, state, cycle);
    const double best = *std::max_element(cycle.peak_ratio.begin(), cycle.peak_ratio.end());
    for (const double p : cycle.peak_ratio) s.truth_pct.push_back(100 * p / best);
    const double period = cycle.time_s.back();
    const double start = 1.0 + o.shift_s;
    std::mt19937 random(7);
    std::normal_distribution<double> noise(0, 1);
    s.trace.quantity = Quantity::current;
    s.trace.rate_hz = o.rate_hz;
    s.trace.start_s = o.shift_s;
    const auto count = static_cast<std::size_t>((1.0 + o.cycles * period) * o.rate_hz);
    for (std::size_t k = 0; k < count; ++k) {
        const double t = s.trace.time_s(k);
        double value = 0;
        if (t >= start) {
            double phase = (t - start) / period;
            phase = (phase - std::floor(phase)) * period;
            const auto at =
                std::upper_bound(cycle.time_s.begin(), cycle.time_s.end(), phase) - cycle.time_s.begin();
            const auto low = std::min<std::size_t>(static_cast<std::size_t>(at) - 1, fine_grid.steps - 1);
            const double part = (phase - cycle.time_s[low]) / (cycle.time_s[low + 1] - cycle.time_s[low]);
            value = cycle.load[low] * (1 - part) + cycle.load[low + 1] * part;
        } else if (t >= start - 0.8) {
            value = 200 + 400 * std::exp(-(t - start + 0.8) / 0.08);
        }
        s.trace.values.push_back(static_cast<float>(o.gain * (value + o.noise * noise(random))));
    }
    s.cranking.start_s = start - 0.8;
    s.cranking.settled_s = start;
    s.cranking.end_s = start + o.cycles * period - 0.001;
    s.angle.kind = ReferenceKind::sync;
    for (int k = 0; k <= o.cycles; ++k) {
        s.angle.time_s.push_back(start + k * period);
        s.angle.angle_deg.push_back(720.0 * k);
    }
    s.angle.cycles = o.cycles;
    s.angle.speed_rpm = 120 / period;
    return s;
}

Contribution run(const Scene& s) {
    return estimate(s.trace, s.cranking, s.angle, s.layout);
}

std::vector<double> percents(const Contribution& c) {
    std::vector<double> out;
    for (const auto& one : c.cylinders) out.push_back(one.contribution_pct.value_or(-1));
    return out;
}

void check_near(const std::vector<double>& got, const std::vector<double>& expected, double points) {
    REQUIRE(got.size() == expected.size());
    for (std::size_t k = 0; k < got.size(); ++k) {
        CAPTURE(k);
        CHECK(std::abs(got[k] - expected[k]) < points);
    }
}

void check_nothing_said(const Contribution& c, std::size_t cylinders) {
    REQUIRE(c.inconclusive);
    CHECK(!c.inconclusive->empty());
    REQUIRE(c.cylinders.size() == cylinders);
    for (const auto& one : c.cylinders) {
        CHECK(!one.contribution_pct);
        CHECK(!one.low_pct);
        CHECK(!one.high_pct);
    }
}

}  // namespace

TEST_CASE("contribution: a sound engine -> every cylinder near 100, nobody far off") {
    // Simulated truth; 2 points is the accuracy asked of the estimate.
    const Scene s = make({});
    check_near(percents(run(s)), s.truth_pct, 2);
}

TEST_CASE("contribution: one leaking cylinder -> its loss, and its neighbours stay sound" * test::once) {
    for (const std::size_t weak : {0U, 1U, 2U, 3U}) {
        Options o;
        o.leak_per_s[weak] = 1.0;
        const Scene s = make(o);
        CAPTURE(weak);
        CHECK(s.truth_pct[weak] < 70);
        const Contribution c = run(s);
        check_near(percents(c), s.truth_pct, 4);
        for (std::size_t k = 0; k < 4; ++k) {
            CHECK(*c.cylinders[k].low_pct <= *c.cylinders[k].contribution_pct);
            CHECK(*c.cylinders[k].contribution_pct <= *c.cylinders[k].high_pct);
            CHECK(*c.cylinders[k].low_pct <= s.truth_pct[k] + 0.05);
            CHECK(*c.cylinders[k].high_pct >= s.truth_pct[k] - 0.05);
        }
    }
}

TEST_CASE("contribution: an odd-firing engine -> both cylinders right") {
    Options o;
    o.intervals_deg = {315, 405};
    o.leak_per_s = {0.05, 0.7};
    const Scene s = make(o);
    check_near(percents(run(s)), s.truth_pct, 6);
}

TEST_CASE("contribution: a bigger leak -> never a better reading" * test::once) {
    double before = 101;
    for (const double leak : {0.05, 0.15, 0.4, 1.0, 2.5}) {
        Options o;
        o.leak_per_s[1] = leak;
        const double now = percents(run(make(o)))[1];
        CAPTURE(leak);
        REQUIRE(now >= 0);           // -1: not known
        CHECK(now <= before + 0.5);  // half a point of noise
        before = now;
    }
}

TEST_CASE("contribution: every second of six loses alike -> a pattern is named, nobody condemned") {
    Options o;
    o.rate_hz = 2000;
    o.intervals_deg.assign(6, 120);
    o.leak_per_s = {0.05, 0.8, 0.05, 0.8, 0.05, 0.8};
    const Contribution alternate = run(make(o));
    CHECK(has_notice(alternate.notices, "repeating-pattern"));
    REQUIRE(alternate.cylinders.size() == 6);
    for (const CylinderContribution& cylinder : alternate.cylinders) CHECK(cylinder.high_pct == 100);
}

TEST_CASE("contribution: gain, time shift and rate -> the same answer" * test::once) {
    Options o;
    o.leak_per_s[2] = 0.6;
    o.noise = 0;
    const auto plain = percents(run(make(o)));
    Options gain = o;
    gain.gain = 0.01;  // float rounding of the trace remains
    check_near(percents(run(make(gain))), plain, 0.5);
    Options shift = o;
    shift.shift_s = -12.5;
    check_near(percents(run(make(shift))), plain, 0.2);
    Options rate = o;
    rate.rate_hz = 20000;
    check_near(percents(run(make(rate))), plain, 1.0);
}

TEST_CASE("contribution: another cylinder holds the sync -> the same answer, rotated" * test::once) {
    Options o;
    o.leak_per_s[1] = 0.6;
    Options turned = o;
    turned.leak_per_s = {0.6, 0.05, 0.05, 0.05};
    const auto a = percents(run(make(o)));
    const auto b = percents(run(make(turned)));
    check_near({a[1], a[2], a[3], a[0]}, b, 1.5);
}

TEST_CASE("contribution: no reference, grid at an unknown place -> the same percentages in turn") {
    Options o;
    o.leak_per_s[1] = 0.6;
    Scene s = make(o);
    const double period = s.angle.time_s[1] - s.angle.time_s[0];
    s.angle.kind = ReferenceKind::none;
    for (double& t : s.angle.time_s) t += 0.31 * period;
    const auto got = percents(run(s));
    const auto lowest = static_cast<std::size_t>(std::min_element(got.begin(), got.end()) - got.begin());
    for (std::size_t k = 0; k < 4; ++k) CHECK(std::abs(got[(lowest + k) % 4] - s.truth_pct[(1 + k) % 4]) < 4);
}

TEST_CASE("contribution: no reference and faster than starters turn -> nobody is condemned, and why" *
          test::once) {
    Options o;
    o.leak_per_s[1] = 0.6;
    Scene s = make(o);
    CHECK_FALSE(has_notice(run(s).notices, "counted-twice"));
    s.angle.speed_rpm = 407;
    CHECK_FALSE(has_notice(run(s).notices, "counted-twice"));  // a mark tells
    s.angle.kind = ReferenceKind::none;
    const Contribution c = run(s);
    CHECK(has_notice(c.notices, "counted-twice"));
    REQUIRE(c.cylinders.size() == 4);
    for (const CylinderContribution& cylinder : c.cylinders) CHECK(cylinder.high_pct == 100);
}

TEST_CASE(
    "contribution: events and cycles -> one event a cylinder and cycle, in time order, none of them NaN") {
    const Contribution c = run(make({}));
    REQUIRE(c.by_cycle_pct.size() >= 5);
    CHECK(c.events.size() == 4 * c.by_cycle_pct.size());
    for (std::size_t k = 1; k < c.events.size(); ++k) CHECK(c.events[k - 1].tdc_s <= c.events[k].tdc_s);
    CHECK(c.mean_cycle.size() == 720);
    CHECK(c.model_cycle.size() == 720);
    for (const double load : c.mean_cycle) CHECK(std::isfinite(load));
    REQUIRE(c.speed_rpm);
    CHECK(c.speed_rpm->low <= c.speed_rpm->value);
    CHECK(c.speed_rpm->value <= c.speed_rpm->high);
    // A weak cylinder's hump is lower than its neighbours': its peak must still be its own, near its own TDC.
    Options o;
    o.leak_per_s[2] = 1.0;
    const Contribution weak = run(make(o));
    const double interval_s = 60 / weak.speed_rpm->value / 2;  // of a four: half a turn
    REQUIRE_FALSE(weak.events.empty());
    for (const CompressionEvent& e : weak.events) CHECK(std::abs(e.peak_s - e.tdc_s) < interval_s / 2 + 1e-3);
}

TEST_CASE("contribution: more than a third of the cycles unlike the rest -> left out, and it is said") {
    Scene s = make({});
    const Contribution whole = run(s);
    REQUIRE(whole.cycles_used);
    CHECK(*whole.cycles_used >= s.angle.cycles - 1);  // the last mark stands a millisecond behind the end
    CHECK_FALSE(has_notice(whole.notices, "cycles-left-out"));
    // The starter pulls half as much again up to the end of the third of seven cycles.
    const double until_s = s.angle.time_s[3];
    for (std::size_t k = 0; k < s.trace.values.size() && s.trace.time_s(k) < until_s; ++k)
        s.trace.values[k] *= 1.5F;
    const Contribution part = run(s);
    REQUIRE(part.cycles_used);
    CHECK(*part.cycles_used <= s.angle.cycles - 3);
    CHECK(has_notice(part.notices, "cycles-left-out"));
}

TEST_CASE("contribution: a constant trace -> inconclusive with a reason") {
    Scene s = make({});
    for (float& v : s.trace.values) v = 180;
    check_nothing_said(run(s), 4);
}

TEST_CASE("contribution: noise alone -> inconclusive, no guess") {
    Scene s = make({});
    std::mt19937 random(3);
    std::normal_distribution<float> noise(180, 4);
    for (float& v : s.trace.values) v = noise(random);
    check_nothing_said(run(s), 4);
}

TEST_CASE("contribution: one cycle, no cycle, nothing -> inconclusive") {
    Options one;
    one.cycles = 1;
    check_nothing_said(run(make(one)), 4);
    Scene none = make({});
    none.angle.time_s.resize(1);
    none.angle.angle_deg.resize(1);
    check_nothing_said(run(none), 4);
    Scene empty = make({});
    empty.trace.values.clear();
    check_nothing_said(run(empty), 4);
}

TEST_CASE("contribution: stages before could not tell -> their reason is kept") {
    Scene s = make({});
    s.cranking.no_cranking = "no inrush was found";
    CHECK(run(s).inconclusive == "no inrush was found");
    Scene t = make({});
    t.angle.no_reference = "no rhythm was found";
    CHECK(run(t).inconclusive == "no rhythm was found");
}

TEST_CASE("contribution: NaN in the trace -> left out; nothing but NaN -> inconclusive") {
    Options o;
    o.leak_per_s[2] = 1.0;
    Scene s = make(o);
    const std::vector<double> whole = percents(run(s));
    for (std::size_t k = 0; k < s.trace.values.size(); k += 37)
        s.trace.values[k] = std::numeric_limits<float>::quiet_NaN();
    const Contribution c = run(s);
    REQUIRE_FALSE(c.inconclusive);
    const std::vector<double> holed = percents(c);
    // One sample of 37 is missing, and noise alone moves an estimate by less than a point.
    for (std::size_t i = 0; i < whole.size(); ++i) CHECK(std::abs(holed[i] - whole[i]) < 1);
    for (float& v : s.trace.values) v = std::numeric_limits<float>::quiet_NaN();
    check_nothing_said(run(s), 4);
}

TEST_CASE("contribution: humps clipped away -> inconclusive") {
    Scene s = make({});
    // The upper half of the settled trace lies beyond the rail.
    std::vector<float> settled(s.trace.values.begin() + 5000, s.trace.values.end());
    std::nth_element(settled.begin(), settled.begin() + static_cast<std::ptrdiff_t>(settled.size() / 2),
                     settled.end());
    const float rail = settled[settled.size() / 2];
    Span clipped;
    for (std::size_t k = 0; k < s.trace.values.size(); ++k) {
        const bool over = s.trace.values[k] > rail;
        if (over && clipped.last != k) clipped.first = k;
        if (over) clipped.last = k + 1;
        if (!over && clipped.last == k && k > 0) s.trace.clipped.push_back(clipped);
    }
    check_nothing_said(run(s), 4);
}

TEST_CASE("estimate: a cylinder with a hole in it -> next to nothing, however many hide it" * test::once) {
    for (const int cylinders : {4, 12}) {
        CAPTURE(cylinders);
        SynthOptions options;
        options.engine.layout = make_layout(cylinders, {}, {}, {});
        options.engine.faults = {{.position = 2, .kind = FaultKind::rings, .amount = 150, .neighbour = {}}};
        const double size = cylinders / 4.0;  // a larger engine has a larger starter and battery
        for (double* mohm : {&options.starter.resistance_mohm, &options.battery.resistance_mohm,
                             &options.battery.sag_mohm, &options.battery.cable_mohm})
            *mohm /= size;
        options.starter.inductance_uh /= size;
        options.engine.inertia_kg_m2 *= size;
        options.starter.rotor_inertia_kg_m2 *= size;
        options.starter.clutch_nm_per_rad *= size;
        AnalyseOptions asked;
        asked.layout = options.engine.layout;
        asked.trace.channel = "Clamp";
        asked.reference.sync = "Sync";
        const Analysis a = analyse(synthesise(options, 5).recording, asked);
        REQUIRE(a.contribution.cylinders[2].contribution_pct);
        CHECK(*a.contribution.cylinders[2].contribution_pct < 6);
        CHECK(*a.contribution.cylinders[2].low_pct == 0);
        CHECK(a.findings.verdicts[2] == Verdict::weak);
        // A hole is a leak: nothing of it looks like low charge.
        CHECK(a.contribution.cylinders[2].loss_kind.value_or(LossKind::leak) == LossKind::leak);
    }
}

TEST_CASE("estimate: a twin taken for an even one -> its intervals are asked for; a dead cylinder is one" *
          test::once) {
    const auto analysed = [](const std::vector<double>& intervals_deg, std::vector<SynthFault> faults) {
        SynthOptions options;
        options.engine.layout = make_layout(2, {}, intervals_deg, {});
        options.engine.faults = std::move(faults);
        AnalyseOptions asked;
        asked.layout = make_layout(2, {}, {}, {});
        asked.trace.channel = "Clamp";
        asked.reference.sync = "Sync";
        return analyse(synthesise(options, 4).recording, asked);
    };
    for (const double first_deg : {180.0, 270.0, 450.0}) {
        CAPTURE(first_deg);
        const Analysis a = analysed({first_deg, 720 - first_deg}, {});
        CHECK(a.findings.outcome == Outcome::inconclusive);
        REQUIRE(a.findings.verdicts.size() == (a.contribution.inconclusive ? 0 : 2));
        for (const Verdict verdict : a.findings.verdicts) CHECK(verdict != Verdict::weak);
    }
    const Analysis dead =
        analysed({}, {{.position = 1, .kind = FaultKind::rings, .amount = 100, .neighbour = {}}});
    CHECK_FALSE(has_notice(dead.contribution.notices, "other-intervals"));
    CHECK(dead.findings.verdicts[1] == Verdict::weak);
}

TEST_CASE("estimate: a sound twin or three with another engine's intervals -> the likelier ones are named" *
          test::once) {
    // Drawn engines, sound ones: one of the cylinders was weak, with 52, 51 and 60 %.
    struct Wrong {
        const char* family;
        std::uint64_t seed;
        std::vector<double> intervals_deg;
        const char* right;
    };
    for (const Wrong& wrong : {Wrong{"three", 4003, {180, 270, 270}, "--intervals 240,240,240"},
                               Wrong{"three", 4012, {180, 270, 270}, "--intervals 240,240,240"},
                               Wrong{"two", 4010, {270, 450}, "--intervals 360,360"}}) {
        CAPTURE(wrong.seed);
        const SynthOptions options = draw_engine(wrong.seed, wrong.family);
        AnalyseOptions asked;
        asked.layout = make_layout({}, {}, wrong.intervals_deg, {});
        asked.trace.channel = "Clamp";
        asked.reference.sync = "Sync";
        asked.reference.sync_lead_deg = options.chain.sync_lead_deg;
        const Analysis a = analyse(synthesise(options, wrong.seed).recording, asked);
        CHECK(a.findings.outcome == Outcome::inconclusive);
        REQUIRE(a.findings.verdicts.size() == wrong.intervals_deg.size());
        for (const Verdict verdict : a.findings.verdicts) CHECK(verdict != Verdict::weak);
        std::string told;
        for (const Notice& notice : a.contribution.notices)
            if (notice.code == "other-intervals") told = notice.text;
        CHECK(told.find(wrong.right) != std::string::npos);
    }
}

TEST_CASE("estimate: the engine fires before the key is let go -> the fired cycles count for nothing") {
    SynthOptions drawn = draw_engine(3, "starts");
    drawn.chain.sync = SyncKind::once_per_cycle;
    const SynthResult made = synthesise(drawn, 3);
    AnalyseOptions options;
    options.layout = drawn.engine.layout;
    options.trace.channel = "Battery";
    options.trace.quantity = Quantity::voltage;
    options.reference = {
        .sync = "Sync", .sync_lead_deg = drawn.chain.sync_lead_deg, .wheel = {}, .wheel_lead_deg = {}};
    const Analysis a = analyse(made.recording, options);
    REQUIRE(a.cranking.end_s > made.truth.end_s);  // from the voltage alone the end is found late
    REQUIRE(a.angle.ran_away_s);
    CHECK(std::abs(a.angle.speed_rpm / made.truth.speed_rpm - 1) < 0.01);
    REQUIRE(a.contribution.cylinders.size() == made.truth.contribution_pct.size());
    for (std::size_t i = 0; i < a.contribution.cylinders.size(); ++i) {
        CAPTURE(i);
        const CylinderContribution& c = a.contribution.cylinders[i];
        CHECK(*c.low_pct <= made.truth.contribution_pct[i]);
        CHECK(*c.high_pct >= made.truth.contribution_pct[i]);
        CHECK((a.findings.verdicts[i] == Verdict::weak) == (made.truth.contribution_pct[i] < 75));
    }
}

TEST_CASE("estimate: the mean speed -> that of the crank over the same time, parts of cycles and all" *
          test::once) {
    // Whole cycles from mark to mark stray by 0.2 % here: the speed still changes, and they cover another
    // time.
    double sum_pct = 0;
    const std::uint64_t seeds = 3;
    for (std::uint64_t seed = 11; seed < 11 + seeds; ++seed) {
        CAPTURE(seed);
        SynthOptions drawn = draw_engine(seed, "six");
        drawn.chain.sync = SyncKind::once_per_cycle;
        const SynthResult made = synthesise(drawn, seed);
        AnalyseOptions options;
        options.layout = drawn.engine.layout;
        options.reference.sync = "Sync";
        options.reference.sync_lead_deg = drawn.chain.sync_lead_deg;
        const Analysis a = analyse(made.recording, options);
        const auto rpm = mean_speed_rpm(a.angle, a.contribution);
        REQUIRE(rpm);
        REQUIRE(a.contribution.speed_rpm);
        sum_pct += 100 * std::abs(*rpm / made.truth.speed_rpm - 1);
    }
    CHECK(sum_pct / static_cast<double>(seeds) < 0.1);
}

TEST_CASE("estimate: the end of the recording moves within a cycle -> the intervals of the speed overlap" *
          test::once) {
    for (const int cylinders : {2, 3}) {
        CAPTURE(cylinders);
        SynthOptions made;
        made.engine.layout = make_layout(cylinders, {}, {}, {});
        const SynthResult result = synthesise(made, 2);
        AnalyseOptions options;
        options.layout = made.engine.layout;
        options.reference.sync = "Sync";
        options.reference.sync_lead_deg = made.chain.sync_lead_deg;
        double highest_low = 0, lowest_high = 1e9;
        for (const double to_s : {2.7, 2.8, 2.9}) {
            options.cranking.to_s = to_s;
            const Analysis a = analyse(result.recording, options);
            REQUIRE(a.contribution.speed_rpm);
            highest_low = std::max(highest_low, a.contribution.speed_rpm->low);
            lowest_high = std::min(lowest_high, a.contribution.speed_rpm->high);
        }
        CHECK(highest_low < lowest_high * 1.001);
    }
}

TEST_CASE("estimate: the first second is left out of the mean speed -> only where two cycles remain") {
    CHECK(cranking::speed_from_s(0.25, 0.6, 5, 0.6) == 1.25);
    CHECK(cranking::speed_from_s(0.25, 1.9, 5, 0.6) == 1.9);
    CHECK(cranking::speed_from_s(0.25, 0.6, 2.4, 0.6) == 0.6);
}

TEST_CASE("estimate: the key is let go within a cycle -> its edge leaves no notch in the mean cycle" *
          test::once) {
    // Bends of a sound eight's mean cycle stay below 7 A from degree to degree; the edge stood there with 16
    // to 45.
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 8, 4, 3, 6, 5, 7, 2}, {}, {});
    options.chain.rate_hz = 5000;
    for (const std::uint64_t seed : {1U, 2U, 4U}) {
        CAPTURE(seed);
        AnalyseOptions known;
        known.layout = options.engine.layout;
        known.reference.sync = "Sync";
        const Analysis a = analyse(synthesise(options, seed).recording, known);
        REQUIRE(a.cranking.ended_by == CrankingEnd::release);
        const std::vector<double>& mean = a.contribution.mean_cycle;
        double sharpest = 0;
        for (std::size_t k = 1; k + 1 < mean.size(); ++k)
            sharpest = std::max(sharpest, std::abs(mean[k - 1] - 2 * mean[k] + mean[k + 1]));
        CHECK(sharpest < 7);
    }
}

TEST_CASE(
    "estimate: humps that mislead -> named as the table names them, by one cylinder, two, or a position" *
    test::once) {
    const Recording weak = read(EVENSTROKE_SOURCE_DIR "/samples/four-weak.csv");
    const Trace trace = pick(weak);
    const Cranking cranking = locate(trace);
    const EngineLayout layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    const auto said = [&](const CrankAngle& angle) {
        for (const Notice& notice : estimate(trace, cranking, angle, layout).notices)
            if (notice.code == "humps-mislead") return notice.text;
        return std::string();
    };
    CrankAngle angle = reference(weak, trace, cranking, layout, {.sync = "Sync"});
    CHECK(said(angle).find("would give cylinder 1 ") != std::string::npos);
    angle.once_per_turn = true;
    CHECK(said(angle).find("would give cylinder 1 or 4 ") != std::string::npos);
    CHECK(said(reference(weak, trace, cranking, layout)).find("would give position ") != std::string::npos);
}

namespace {

/// A four's load that swings by `swing_ratio` of its mean either way, lowest where the sync puts the TDCs.
Analysis analysed_upside_down(double swing_ratio, AnalyseOptions options = {}) {
    const signals::Crank crank{.mean_a = 70, .hump_a = 0, .inrush_a = 340};
    Recording recording = signals::clamp_and_sync(crank);
    std::vector<float>& current = recording.channels[0].values;
    for (std::size_t i = 0; i < current.size(); ++i) {
        const double t = static_cast<double>(i) / crank.rate_hz - crank.before_s;
        if (t < 0 || t > crank.cranking_s) continue;
        const double firing_turns = signals::angle_deg(crank, t) * 4 / cycle_deg;
        current[i] -= static_cast<float>(crank.mean_a * swing_ratio * std::cos(2 * pi * firing_turns));
    }
    options.layout = crank.layout;
    options.reference.sync = "Cam";
    return analyse(recording, options);
}

}  // namespace

TEST_CASE("estimate: no compression fits a load that hardly swings -> nothing seems to compress") {
    // What masses and the starter's own ripple leave of it with the plugs out: some per cent (simulated).
    const Analysis out = analysed_upside_down(0.029);
    REQUIRE(out.contribution.inconclusive);
    CHECK(out.contribution.inconclusive->find("nothing seems to compress") != std::string::npos);
    CHECK_FALSE(flat(out.cranking));
    // Something swings the load as much as compressions do: these, or how they are told, are doubted instead.
    const Analysis strong = analysed_upside_down(0.2);
    REQUIRE(strong.contribution.inconclusive);
    CHECK(strong.contribution.inconclusive->find("nothing seems to compress") == std::string::npos);
    CHECK(strong.contribution.inconclusive->find("check the number of cylinders") != std::string::npos);
}

TEST_CASE("estimate: a lead that puts the humps where nothing compresses -> the lead is to be checked" *
          test::once) {
    AnalyseOptions options;
    const Analysis none_told = analysed_upside_down(0.2, options);
    REQUIRE(none_told.contribution.inconclusive);
    CHECK(none_told.contribution.inconclusive->find("--sync-lead") != std::string::npos);
    options.reference.sync_lead_deg = 180;  // a whole firing interval on, where the load is as low
    const Analysis told = analysed_upside_down(0.2, options);
    REQUIRE(told.contribution.inconclusive);
    CHECK(told.contribution.inconclusive->find("(180 were taken)") != std::string::npos);
}
