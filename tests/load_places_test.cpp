// Where firing intervals begin when no reference says so, on loads and on engines of the synth (simulated).
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "contribution/load_align.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

using namespace evenstroke;

namespace {

/// An uneven twin of which position 1 does next to nothing.
SynthOptions lone_twin(double first_interval_deg) {
    SynthOptions options;
    options.engine.layout = make_layout(2, {}, {first_interval_deg, 720 - first_interval_deg}, {});
    options.engine.faults = {
        {.position = 1, .kind = FaultKind::exhaust_valve, .amount = 60, .neighbour = {}}};
    return options;
}

AnalyseOptions asked_of(const SynthOptions& options, bool with_sync) {
    AnalyseOptions asked;
    asked.layout = options.engine.layout;
    asked.trace.channel = "Clamp";
    if (with_sync) asked.reference.sync = "Sync";
    return asked;
}

}  // namespace

TEST_CASE("load places: intervals that come again in the cycle -> places that differ, not one thrice" *
          test::once) {
    const EngineLayout layout = make_layout(6, {}, {150, 90, 150, 90, 150, 90}, {});
    constexpr int places = 720;
    Eigen::ArrayXd load = Eigen::ArrayXd::Zero(places);
    for (const double tdc_deg : layout.firing_tdc_deg())
        for (int k = 0; k < places; ++k) {
            const double away = std::remainder(k - tdc_deg - 20, 720.0) / 25;
            load[k] += std::exp(-away * away / 2);
        }
    const auto found = contribution::tdc_candidates_deg(load, 0.6, layout);
    REQUIRE(!found.empty());
    for (std::size_t a = 0; a < found.size(); ++a)
        for (std::size_t b = a + 1; b < found.size(); ++b)
            CHECK(std::abs(std::remainder(found[a] - found[b], 240.0)) >= 10);
    CHECK(std::abs(std::remainder(found[0], 240.0)) < 30);
}

TEST_CASE("load places: one compression of an uneven twin -> either's without a sync, the dead one's with" *
          test::once) {
    for (const double first_deg : {270.0, 315.0}) {
        CAPTURE(first_deg);
        const SynthOptions options = lone_twin(first_deg);
        const SynthResult made = synthesise(options, 11);
        REQUIRE(made.truth.contribution_pct[1] < 20);
        const Analysis open = analyse(made.recording, asked_of(options, false));
        CHECK(has_notice(open.contribution.notices, "lone-compression"));
        CHECK(open.findings.headline.find("only one of the two cylinders compresses") != std::string::npos);
        for (std::size_t c = 0; c < 2; ++c) {
            CHECK(*open.contribution.cylinders[c].low_pct <= made.truth.contribution_pct[c]);
            CHECK(*open.contribution.cylinders[c].high_pct >= made.truth.contribution_pct[c] - 1e-6);
            CHECK(open.findings.verdicts[c] == Verdict::unsure);
        }
        const Analysis told = analyse(made.recording, asked_of(options, true));
        CHECK_FALSE(has_notice(told.contribution.notices, "lone-compression"));
        CHECK(told.findings.verdicts[1] == Verdict::weak);
    }
}

TEST_CASE("load places: an even twin's one compression, taken for both -> the double speed is named" *
          test::once) {
    SynthOptions options = draw_engine(4043, "two");  // aims at 172 rpm
    options.engine.faults = {{.position = 1, .kind = FaultKind::rings, .amount = 60, .neighbour = {}}};
    const SynthResult made = synthesise(options, 4043);
    REQUIRE(made.truth.contribution_pct[1] < 5);
    const Analysis a = analyse(made.recording, asked_of(options, false));
    REQUIRE(a.findings.verdicts.size() == 2);
    for (const Verdict verdict : a.findings.verdicts) CHECK(verdict == Verdict::unsure);
    CHECK(has_notice(a.contribution.notices, "speed-may-be-double"));
    REQUIRE(a.contribution.speed_rpm);
    CHECK(a.contribution.speed_rpm->value < 0.6 * options.engine.speed_rpm);
    CHECK(a.contribution.speed_rpm->high > options.engine.speed_rpm);
}

TEST_CASE("load places: a twin read at twice its speed -> nobody is condemned, and the half is named" *
          test::once) {
    SynthOptions options;
    options.engine.layout = make_layout(2, {}, {450, 270}, {});
    options.engine.faults = {{.position = 1, .kind = FaultKind::exhaust_valve, .amount = 3, .neighbour = {}}};
    options.engine.speed_rpm = 150;
    options.chain.rate_hz = 2000;
    const SynthResult made = synthesise(options, 2);
    const Analysis a = analyse(made.recording, asked_of(options, false));
    REQUIRE(a.findings.verdicts.size() == 2);
    for (const Verdict verdict : a.findings.verdicts) CHECK(verdict != Verdict::weak);
    CHECK(has_notice(a.contribution.notices, "counted-twice"));
    CHECK(a.findings.headline.find("counted twice") != std::string::npos);
}
