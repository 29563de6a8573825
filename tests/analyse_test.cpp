#include <doctest/doctest.h>

#include <algorithm>

#include "evenstroke/analyse.hpp"
#include "signals.hpp"
#include "support/once.hpp"

using namespace evenstroke;

namespace {

/// The recording of an engine at 200 rpm, its rate wrong by a factor.
Recording mistimed(double factor) {
    signals::Crank crank;
    Recording recording = signals::clamp_and_sync(crank);
    recording.rate_hz *= factor;
    recording.recorded_rate_hz *= factor;
    recording.duration_s /= factor;
    return recording;
}

}  // namespace

TEST_CASE("analyse: a sync at a speed that no starter usually has -> said; beyond any cranking -> refused" *
          test::once) {
    const AnalyseOptions options{.layout = make_layout(4, {}, {}, {}), .reference = {.sync = "Cam"}};
    const auto doubted = [&](double factor) {
        const Analysis a = analyse(mistimed(factor), options);
        return std::any_of(a.angle.notices.begin(), a.angle.notices.end(),
                           [](const Notice& n) { return n.code == "speed-unusual"; });
    };
    CHECK_FALSE(doubted(1));
    CHECK(doubted(0.4));
    CHECK(doubted(2));
    // Marks every 20 ms are no engine's: 6000 rpm.
    Recording noisy = mistimed(1);
    auto& marks = noisy.channels[1].values;
    const auto every = static_cast<std::size_t>(0.02 * noisy.rate_hz);
    for (std::size_t i = 0; i < marks.size(); ++i) marks[i] = i % every < every / 4 ? 5.0F : 0.0F;
    CHECK_THROWS_AS((void)analyse(noisy, options), Error);
}

TEST_CASE("analyse: a layout that is no engine's -> refused before anything is done") {
    for (const EngineLayout& none : {EngineLayout{}, EngineLayout{.intervals_deg = {360, 300}, .order = {}},
                                     EngineLayout{.intervals_deg = {360, 360}, .order = {1, 2, 3}}})
        for (const Quantity quantity : {Quantity::current, Quantity::wheel}) {
            AnalyseOptions options{.layout = none};
            options.trace.quantity = quantity;
            CHECK_THROWS_AS((void)analyse(mistimed(1), options), Error);
        }
}
