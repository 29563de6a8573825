// A window too short to tell what the engine did. Traces made by hand after what simulated engines do when
// the key is released.
#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"

using namespace evenstroke;

namespace {

constexpr int window_rate_hz = 2000;

/// One compression: when its top is, and the widths of its flanks.
struct Bump {
    double top_s = 0, rise_s = 0, fall_s = 0;
};

Recording made_of(const std::vector<Bump>& bumps, double duration_s) {
    Channel channel{.name = "P", .unit = "kPa"};
    for (int i = 0; i < static_cast<int>(duration_s * window_rate_hz); ++i) {
        const double at_s = i / double{window_rate_hz};
        double kpa = 100 + 0.5 * std::sin(777.7 * i * i);
        for (const Bump& b : bumps) {
            const double u = (at_s - b.top_s) / (at_s < b.top_s ? b.rise_s : b.fall_s);
            kpa += 1500 * std::exp(-u * u);
        }
        channel.values.push_back(static_cast<float>(kpa));
    }
    Recording recording{.path = "made",
                        .rate_hz = window_rate_hz,
                        .recorded_rate_hz = window_rate_hz,
                        .duration_s = duration_s};
    recording.channels.push_back(channel);
    return recording;
}

}  // namespace

TEST_CASE(
    "pressure window: a compression or two at the key's release -> no running engine, what is missing") {
    struct Case {
        std::vector<Bump> bumps;
        const char* seen;
    };
    const Case cases[] = {{{{0.15, 0.02, 0.05}}, "only one compression was recorded"},
                          {{{0.1, 0.02, 0.02}, {0.25, 0.02, 0.02}}, "only two compressions were recorded"},
                          {{{0.12, 0.02, 0.05}, {0.29, 0.02, 0.05}}, "only two compressions were recorded"}};
    for (const Case& one : cases) {
        const Pressure p = measure_pressure(made_of(one.bumps, 0.4));
        CHECK(p.kind == PressureKind::motored);
        const PressureFindings f = judge_pressure(p);
        CAPTURE(f.headline);
        CHECK(f.outcome == PressureVerdict::inconclusive);
        CHECK(f.headline.find(one.seen) != std::string::npos);
        CHECK(f.headline.find("at least four compressions") != std::string::npos);
        CHECK(f.headline.find("running engine") == std::string::npos);
    }
}

TEST_CASE("pressure window: the same for long -> a running engine") {
    std::vector<Bump> bumps;
    for (int k = 0; k < 10; ++k) bumps.push_back({0.1 + 0.15 * k, 0.02, 0.02});  // 800 rpm
    const Pressure p = measure_pressure(made_of(bumps, 1.6));
    CHECK(p.kind == PressureKind::fired);
    CHECK(judge_pressure(p).headline.find("running engine") != std::string::npos);
}

TEST_CASE(
    "pressure window: less than a cycle without a compression -> the window is the reason, not the "
    "cylinder") {
    const PressureFindings f = judge_pressure(measure_pressure(made_of({}, 0.4)));
    CHECK(f.outcome == PressureVerdict::inconclusive);
    CHECK(f.headline.find("no compression lies in the 0.40 s") != std::string::npos);
    CHECK(judge_pressure(measure_pressure(made_of({}, 2))).headline.find("no compression stands out") !=
          std::string::npos);
}

TEST_CASE("pressure window: a rise that stands to the end of 0.4 s -> no reading of a gauge") {
    // A crank that stops on its compression; a diesel's was read as a gauge that holds 418 psi.
    const PressureFindings f = judge_pressure(measure_pressure(made_of({{0.2, 0.02, 30}}, 0.4)));
    CHECK(f.outcome == PressureVerdict::inconclusive);
    // A gauge that shows as much for long enough is read.
    CHECK(judge_pressure(measure_pressure(made_of({{0.2, 0.02, 30}}, 6))).outcome ==
          PressureVerdict::sealing);
}
