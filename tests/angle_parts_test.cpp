// The parts that an angle without teeth is made of, against what the arithmetic says (closed forms).
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "angle/hump_width.hpp"
#include "angle/speed_ramp.hpp"

using namespace evenstroke;
using angle::SpeedRamp;

TEST_CASE(
    "speed ramp: none -> time as it is; either sign -> from 0 to the duration, and back by its integral") {
    CHECK(SpeedRamp{.share = 0, .duration_s = 4}.time_s(1.25) == 1.25);
    for (const double share : {-0.4, -0.1, 0.2, 0.4}) {
        CAPTURE(share);
        const SpeedRamp ramp{.share = share, .duration_s = 4};
        CHECK(ramp.time_s(0) == doctest::Approx(0));
        CHECK(ramp.time_s(4) == doctest::Approx(4));
        for (const double steady_s : {0.5, 1.7, 3.3}) {
            const double x = ramp.time_s(steady_s) / 4;
            CHECK(4 * ((1 - share) * x + share * x * x) == doctest::Approx(steady_s));
        }
    }
}

TEST_CASE(
    "steadied: a tone that sinks evenly -> one of its mean frequency; nothing and one value -> as they are") {
    const SpeedRamp ramp{.share = -0.2, .duration_s = 5};
    CHECK(angle::steadied({}, ramp).empty());
    CHECK(angle::steadied({3}, ramp) == std::vector<float>{3});
    constexpr int count = 5000;
    constexpr double cycles = 40;
    std::vector<float> sinking;
    for (int i = 0; i < count; ++i) {
        const double x = static_cast<double>(i) / count;
        sinking.push_back(static_cast<float>(
            std::cos(2 * std::numbers::pi * cycles * ((1 - ramp.share) * x + ramp.share * x * x))));
    }
    const std::vector<float> steady = angle::steadied(sinking, ramp);
    REQUIRE(steady.size() == sinking.size());
    double worst = 0;
    for (int i = 0; i < count; ++i) {
        const double wanted = std::cos(2 * std::numbers::pi * cycles * i / count);
        worst = std::max(worst, std::abs(wanted - static_cast<double>(steady[static_cast<std::size_t>(i)])));
    }
    CHECK(worst < 0.001);
}

TEST_CASE("hump share: a quarter of the time between marks -> a quarter; constant, or one mark -> nothing") {
    Trace trace;
    trace.rate_hz = 1000;
    trace.values.resize(4000);
    const std::vector<double> marks_s = {0.1, 0.9, 1.7, 2.5};
    CHECK_FALSE(angle::hump_share(trace, trace.values, marks_s));
    std::vector<float> load(4000);
    for (std::size_t i = 0; i < load.size(); ++i) {
        const double place = std::fmod(static_cast<double>(i) / 1000 - 0.1 + 0.8, 0.8) / 0.8;
        load[i] = place > 0.3 && place < 0.55 ? 180.0F : 60.0F;
    }
    const auto share = angle::hump_share(trace, load, marks_s);
    REQUIRE(share);
    CHECK(*share == doctest::Approx(0.25).epsilon(0.04));
    CHECK_FALSE(angle::hump_share(trace, load, std::vector<double>{0.1}));
}
