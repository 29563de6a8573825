// Odd-firing engines, and odd numbers of even ones, on a toothed wheel: engines that the project's own synth
// cranks. Simulation, not evidence; its equations are not the estimate's.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/analyse.hpp"
#include "evenstroke/error.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"

using namespace evenstroke;

namespace {

/// What the reference says beside the teeth.
enum class Told { nothing, lead, cam };

constexpr double cam_lead_deg = 60;  // docs/synth.md: the cam's mark rises 60 degrees before TDC

SynthOptions on_wheel(SynthOptions options, Told told) {
    options.chain.wheel = WheelKind::edges;
    options.chain.pattern = parse_wheel("60-2");
    options.chain.cam = told == Told::cam;
    return options;
}

Analysis analysed(const SynthOptions& options, const Recording& recording, Told told) {
    AnalyseOptions how;
    how.layout = options.engine.layout;
    how.layout.order.clear();
    how.trace.channel = "Wheel";
    how.trace.quantity = Quantity::wheel;
    how.reference.wheel = options.chain.pattern;
    if (told == Told::lead) how.reference.wheel_lead_deg = options.chain.wheel_lead_deg;
    if (told == Told::cam) {
        how.reference.sync = "Cam";
        how.reference.sync_lead_deg = cam_lead_deg;
    }
    return analyse(recording, how);
}

SynthOptions engine(const std::vector<double>& intervals_deg) {
    SynthOptions options;
    options.engine.layout = make_layout({}, {}, intervals_deg, {});
    return options;
}

bool has(const std::vector<Notice>& notices, const std::string& code) {
    return std::any_of(notices.begin(), notices.end(), [&](const Notice& n) { return n.code == code; });
}

}  // namespace

TEST_CASE("wheel, odd firing: one cylinder down, the cycle told by a cam -> it alone is low" * test::once) {
    const std::vector<double> layouts[] = {{270, 450}, {150, 90, 150, 90, 150, 90}, {180, 270, 180, 90}};
    for (const auto& intervals : layouts) {
        CAPTURE(intervals.size());
        SynthOptions options = on_wheel(engine(intervals), Told::cam);
        // 12 mm² past the rings: four times what a technician would call a clear fault (docs/synth.md).
        options.engine.faults = {{.position = 1, .kind = FaultKind::rings, .amount = 12, .neighbour = {}}};
        const SynthResult made = synthesise(options, 5);
        const Analysis a = analysed(options, made.recording, Told::cam);
        REQUIRE_FALSE(a.contribution.inconclusive);
        REQUIRE(made.truth.contribution_pct[1] < 50);
        for (std::size_t i = 0; i < intervals.size(); ++i) {
            CAPTURE(i);
            const auto& c = a.contribution.cylinders[i];
            if (i == 1)
                CHECK((a.findings.verdicts[i] == Verdict::weak || a.findings.verdicts[i] == Verdict::low));
            if (i != 1) CHECK(a.findings.verdicts[i] != Verdict::weak);
            CHECK(*c.low_pct <= made.truth.contribution_pct[i]);
            CHECK(*c.high_pct >= made.truth.contribution_pct[i]);
        }
    }
}

TEST_CASE(
    "wheel, odd firing: all alike, nothing told but the teeth -> the intervals find their place, none is "
    "weak" *
    test::once) {
    const std::vector<double> layouts[] = {{270, 450}, {150, 90, 150, 90, 150, 90}, {180, 270, 180, 90}};
    for (const auto& intervals : layouts) {
        CAPTURE(intervals.size());
        const SynthOptions options = on_wheel(engine(intervals), Told::nothing);
        const Analysis a = analysed(options, synthesise(options, 6).recording, Told::nothing);
        REQUIRE_FALSE(a.contribution.inconclusive);
        for (std::size_t i = 0; i < intervals.size(); ++i) {
            CHECK(a.findings.verdicts[i] != Verdict::weak);
            CHECK(*a.contribution.cylinders[i].high_pct >= 90);
        }
    }
}

TEST_CASE("wheel, odd firing: engines that the synth draws -> no sound cylinder weak, no dead one even" *
          test::once) {
    int weak = 0;
    for (const char* family : {"two-odd", "four-odd", "six-odd"})
        for (std::uint64_t seed = 41; seed < 46; ++seed) {
            CAPTURE(family);
            CAPTURE(seed);
            const SynthOptions options = on_wheel(draw_engine(seed, family), Told::cam);
            SynthResult made;
            try {
                made = synthesise(options, seed);
            } catch (const Error&) {
                continue;  // too heavy for its starter
            }
            const Analysis a = analysed(options, made.recording, Told::cam);
            REQUIRE(a.findings.verdicts.size() == made.truth.contribution_pct.size());
            for (std::size_t i = 0; i < a.findings.verdicts.size(); ++i) {
                const double truth_pct = made.truth.contribution_pct[i];
                if (truth_pct > 90) CHECK(a.findings.verdicts[i] != Verdict::weak);
                // A good margin below the published 75 %: at the limit itself either word is right half the
                // time.
                if (truth_pct < 65) CHECK(a.findings.verdicts[i] != Verdict::even);
                weak += truth_pct < 65;
            }
        }
    CHECK(weak >= 3);  // something was there to be missed
}

TEST_CASE(
    "wheel, odd firing: one of two dead and no mark of the cycle -> either may be it, and that is said" *
    test::once) {
    // With one compression a cycle 270 degrees after and 450 degrees before the dead one's place look alike,
    // but for what a dead cylinder still breathes and leaks, which is not enough: on a drawn engine it led to
    // the sound one.
    for (const int dead : {0, 1}) {
        CAPTURE(dead);
        SynthOptions options = on_wheel(engine({270, 450}), Told::nothing);
        options.engine.faults = {
            {.position = dead, .kind = FaultKind::exhaust_valve, .amount = 60, .neighbour = {}}};
        const SynthResult made = synthesise(options, 5);
        REQUIRE(made.truth.contribution_pct[static_cast<std::size_t>(dead)] < 15);
        const Analysis open = analysed(options, made.recording, Told::nothing);
        REQUIRE_FALSE(open.contribution.inconclusive);
        CHECK(has(open.contribution.notices, "lone-compression"));
        REQUIRE(open.findings.verdicts.size() == 2);
        for (const Verdict verdict : open.findings.verdicts) CHECK(verdict == Verdict::unsure);
    }

    SynthOptions options = on_wheel(engine({270, 450}), Told::nothing);
    options.engine.faults = {
        {.position = 1, .kind = FaultKind::exhaust_valve, .amount = 60, .neighbour = {}}};
    const SynthOptions with_cam = on_wheel(options, Told::cam);
    const Analysis told = analysed(with_cam, synthesise(with_cam, 5).recording, Told::cam);
    REQUIRE_FALSE(told.contribution.inconclusive);
    CHECK_FALSE(has(told.contribution.notices, "lone-compression"));
    CHECK(*told.contribution.cylinders[1].contribution_pct < 50);
    CHECK(*told.contribution.cylinders[0].contribution_pct == doctest::Approx(100));
}

TEST_CASE("wheel: a lead on an engine whose turns differ -> both halves of the cycle are tried" *
          test::once) {
    // Even threes and odd sixes: half a cycle on, the same mark finds other firings.
    const std::vector<double> layouts[] = {{240, 240, 240}, {150, 90, 150, 90, 150, 90}};
    for (const auto& intervals : layouts)
        for (const double start_deg : {100.0, 460.0}) {  // the wheel's first gap is seen in either turn
            CAPTURE(intervals.size());
            CAPTURE(start_deg);
            SynthOptions options = on_wheel(engine(intervals), Told::lead);
            options.run.start_angle_deg = start_deg;
            options.engine.faults = {
                {.position = 1, .kind = FaultKind::rings, .amount = 12, .neighbour = {}}};
            const SynthResult made = synthesise(options, 5);
            const Analysis a = analysed(options, made.recording, Told::lead);
            REQUIRE_FALSE(a.contribution.inconclusive);
            for (std::size_t i = 0; i < intervals.size(); ++i) {
                CAPTURE(i);
                CHECK(*a.contribution.cylinders[i].low_pct <= made.truth.contribution_pct[i]);
                CHECK(*a.contribution.cylinders[i].high_pct >= made.truth.contribution_pct[i]);
            }
            CHECK(*a.contribution.cylinders[1].contribution_pct < 75);
        }
}

TEST_CASE("estimate: an even three with a mark once a turn -> both halves are tried, the weak one found" *
          test::once) {
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
        CAPTURE(seed);
        SynthOptions options = engine({240, 240, 240});
        options.chain.sync = SyncKind::once_per_turn;
        options.engine.faults = {{.position = 1, .kind = FaultKind::rings, .amount = 6, .neighbour = {}}};
        const SynthResult made = synthesise(options, seed);
        AnalyseOptions how;
        how.layout = options.engine.layout;
        how.trace.channel = "Clamp";
        how.reference.sync = "Sync";
        const Analysis a = analyse(made.recording, how);
        REQUIRE(a.angle.once_per_turn);
        REQUIRE_FALSE(a.contribution.inconclusive);
        CHECK(a.findings.verdicts[1] == Verdict::weak);
        CHECK(a.findings.verdicts[0] != Verdict::weak);
        CHECK(a.findings.verdicts[2] != Verdict::weak);
        for (std::size_t i = 0; i < 3; ++i)
            // Three times the mean error of this family (docs/accuracy.md).
            CHECK(std::abs(*a.contribution.cylinders[i].contribution_pct - made.truth.contribution_pct[i]) <
                  4);
    }
}

TEST_CASE(
    "wheel, odd firing: a twin taken for an even one -> nobody is condemned, and the layout is doubted" *
    test::once) {
    SynthOptions options = on_wheel(engine({270, 450}), Told::cam);
    const SynthResult made = synthesise(options, 7);
    options.engine.layout = make_layout(2, {}, {}, {});
    const Analysis a = analysed(options, made.recording, Told::cam);
    CHECK(a.findings.outcome != Outcome::weak);
    REQUIRE(a.findings.verdicts.size() == (a.contribution.inconclusive ? 0 : 2));
    for (const Verdict verdict : a.findings.verdicts) CHECK(verdict != Verdict::weak);
    CHECK((has(a.contribution.notices, "speed-not-followed") || a.contribution.inconclusive));
}
