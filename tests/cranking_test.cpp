#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "evenstroke/cranking.hpp"
#include "evenstroke/synth.hpp"
#include "signals.hpp"

using namespace evenstroke;

namespace {

Trace current_trace(const signals::Crank& crank) {
    return {.channel = "Clamp",
            .quantity = Quantity::current,
            .unit = "A",
            .rate_hz = crank.rate_hz,
            .values = signals::current_a(crank)};
}

}  // namespace

TEST_CASE("cranking: the inrush beyond the clamp's range -> no figure for it, and the least that it was") {
    const signals::Crank crank;
    auto recording = signals::clamp_and_sync(crank);
    for (float& v : recording.channels[0].values) v = std::min(v, 350.0F);
    const Cranking cranking = locate(pick(recording, {.channel = "Clamp", .quantity = Quantity::current}));
    CHECK_FALSE(cranking.inrush_a);
    const auto said = std::find_if(cranking.notices.begin(), cranking.notices.end(),
                                   [](const Notice& n) { return n.code == "inrush-clipped"; });
    REQUIRE(said != cranking.notices.end());
    CHECK(said->text.find("at least 350 A") != std::string::npos);
}

TEST_CASE(
    "cranking: one cylinder, whose starter coasts between two humps -> the whole burst, to the release") {
    for (const double offset_a : {0.0, 10.0}) {
        CAPTURE(offset_a);
        SynthOptions options;
        options.engine.layout = make_layout(1, {}, {}, {});
        options.chain.offset_a = offset_a;
        const SynthResult made = synthesise(options, 1);
        const Cranking cranking =
            locate(pick(made.recording, {.channel = "Clamp", .quantity = Quantity::current}));
        REQUIRE_FALSE(cranking.no_cranking);
        // The solenoid draws its own current a little before the main contact closes.
        CHECK(std::abs(cranking.start_s - made.truth.start_s) < 0.05);
        CHECK(std::abs(cranking.end_s - made.truth.end_s) < 0.05);
        CHECK(cranking.ended_by == CrankingEnd::release);
    }
}

TEST_CASE("cranking: three times over glow plugs that stay on -> three bursts, not one that coasts") {
    constexpr double rate_hz = 1000, glow_a = 45;
    Trace trace{
        .channel = "Clamp", .quantity = Quantity::current, .unit = "A", .rate_hz = rate_hz, .values = {}};
    for (int i = 0; i < 15'000; ++i) {
        const double t = i / rate_hz;
        double current_a = t >= 0.5 && t < 14 ? glow_a : 0;
        for (const auto& [from, to] : {std::pair(3.0, 5.0), std::pair(5.8, 7.6), std::pair(8.4, 10.9)})
            if (t >= from && t < to)
                current_a += 200 + 40 * std::cos(2 * std::numbers::pi * 7 * (t - from)) +
                             400 * std::exp(-(t - from) / 0.05);
        trace.values.push_back(static_cast<float>(current_a));
    }
    const Cranking cranking = locate(trace);
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(std::abs(cranking.start_s - 8.4) < 0.05);
    CHECK(cranking.others.size() == 2);
}

TEST_CASE("cranking: one burst -> start, inrush, settled part and release") {
    const signals::Crank crank;
    const Cranking cranking = locate(current_trace(crank));
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(std::abs(cranking.start_s - 0.3) < 0.002);  // one sample either side, and the noise
    CHECK(std::abs(cranking.end_s - 4.3) < 0.02);     // the 10 ms mean that finds the fall
    CHECK(cranking.ended_by == CrankingEnd::release);
    CHECK(cranking.settled_s >= 0.6);  // 0.3 s of run-up at least
    CHECK(cranking.settled_s < 1.5);
    REQUIRE(cranking.inrush_a);
    CHECK(*cranking.inrush_a == doctest::Approx(500).epsilon(0.05));
    // Mean load of the formula: 180 A and four humps of 60 A, sd 30 degrees, in 720 degrees.
    const double mean_a = 180 + 4 * 60 * 30 * std::sqrt(2 * std::numbers::pi) / 720;
    REQUIRE(cranking.mean_a);
    CHECK(*cranking.mean_a == doctest::Approx(mean_a).epsilon(0.02));
}

TEST_CASE("cranking: the recording stops first -> end of recording") {
    signals::Crank crank;
    crank.after_s = 0;
    const Cranking cranking = locate(current_trace(crank));
    CHECK(cranking.ended_by == CrankingEnd::recording_end);
    CHECK(std::abs(cranking.end_s - 4.3) < 0.002);
}

TEST_CASE(
    "cranking: the load dies away over tenths of a second -> engine start, and nothing after it counts") {
    signals::Crank crank;
    crank.starts = true;
    crank.after_s = 1.5;
    const Cranking cranking = locate(current_trace(crank));
    CHECK(cranking.ended_by == CrankingEnd::engine_start);
    CHECK(cranking.end_s < 4.33);
    CHECK(cranking.end_s > 4.0);
}

TEST_CASE(
    "cranking: amperes a thousandth of a starter's, or a hundred times -> the scale is doubted, in amperes "
    "only") {
    const auto doubted = [](const Trace& trace) {
        const Cranking cranking = locate(trace);
        REQUIRE_FALSE(cranking.no_cranking);
        std::string text;
        for (const Notice& notice : cranking.notices)
            if (notice.code == "scale-doubtful") text = notice.text;
        return text;
    };
    Trace trace = current_trace({});
    CHECK(doubted(trace).empty());
    for (float& v : trace.values) v *= 0.001F;
    CHECK(doubted(trace).find("averages 0.") != std::string::npos);
    CHECK(doubted(trace).find("--scale") != std::string::npos);
    for (float& v : trace.values) v *= 1e5F;
    CHECK(doubted(trace).find("no starter draws that much") != std::string::npos);
    trace.unit = "V";  // said when the channel is picked: no amperes at all
    CHECK(doubted(trace).empty());
}

TEST_CASE(
    "cranking: a twin's starter that coasts to almost nothing between humps -> one burst; so is its end") {
    // 270 and 450 degrees apart at 100 rpm: a hump of 0.3 s every 0.45 and 0.75 s, 2 % of it between them.
    Trace trace{.quantity = Quantity::current, .rate_hz = 1000, .values = std::vector<float>(500, 0.0F)};
    const std::vector<float> inrush(150, 160.0F), coast_after_inrush(200, 20.0F);
    trace.values.insert(trace.values.end(), inrush.begin(), inrush.end());
    trace.values.insert(trace.values.end(), coast_after_inrush.begin(), coast_after_inrush.end());
    for (int hump = 0; hump < 9; ++hump) {
        for (int i = 0; i < 300; ++i)
            trace.values.push_back(static_cast<float>(100 * std::sin(pi * i / 300) + 2));
        trace.values.insert(trace.values.end(), hump % 2 == 0 ? 150 : 450, 2.0F);
    }
    const Cranking cranking = locate(trace);
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(cranking.others.empty());
    CHECK(cranking.start_s == doctest::Approx(0.5).epsilon(0.02));
    CHECK(cranking.end_s > 0.85 + 8 * 0.6);
}

TEST_CASE("cranking: a current that sinks all along, its humps as high as ever -> no engine start") {
    Trace trace{.quantity = Quantity::current, .rate_hz = 1000, .values = std::vector<float>(500, 0.0F)};
    for (int i = 0; i < 4000; ++i) {
        const double t = i / 1000.0;
        trace.values.push_back(
            static_cast<float>(300 - 15 * t + 8 * std::sin(2 * pi * 25 * t) + 400 * std::exp(-t / 0.05)));
    }
    const Cranking cranking = locate(trace);
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(cranking.ended_by == CrankingEnd::recording_end);
}

TEST_CASE("cranking: most of it beyond the range -> that is said, not that the engine stands") {
    Trace trace = current_trace({});
    const float rail = 100;
    Span clipped;
    for (std::size_t i = 0; i < trace.values.size(); ++i) {
        const bool over = trace.values[i] > rail;
        if (over) trace.values[i] = rail;
        if (over && clipped.last != i) clipped.first = i;
        if (over) clipped.last = i + 1;
        if (!over && clipped.last == i && i > 0) trace.clipped.push_back(clipped);
    }
    CHECK(locate(trace).no_cranking.value_or("").find("range cuts the signal off") != std::string::npos);
}

TEST_CASE("cranking: three bursts -> the longest is used, the others are named, --from and --to choose") {
    signals::Crank brief;
    brief.cranking_s = 1.2;
    signals::Crank lasting;
    auto trace = current_trace(brief);
    for (const auto* crank : {&lasting, &brief}) {
        const auto more = signals::current_a(*crank);
        trace.values.insert(trace.values.end(), more.begin(), more.end());
    }
    const Cranking cranking = locate(trace);
    CHECK(cranking.start_s == doctest::Approx(1.8 + 0.3).epsilon(0.01));
    CHECK(cranking.others.size() == 2);
    CHECK(std::any_of(cranking.notices.begin(), cranking.notices.end(),
                      [](const Notice& n) { return n.code == "several-bursts"; }));
    const Cranking first = locate(trace, {.to_s = 1.7});
    CHECK(std::abs(first.start_s - 0.3) < 0.002);
    CHECK(first.end_s < 1.7);
}

TEST_CASE("cranking: time shifted and gain changed -> the same places") {
    const signals::Crank crank;
    const Cranking reference = locate(current_trace(crank));
    auto trace = current_trace(crank);
    trace.start_s = -0.7;
    for (float& v : trace.values) v *= 0.01F;
    const Cranking moved = locate(trace);
    CHECK(std::abs(moved.start_s - (reference.start_s - 0.7)) < 1e-9);
    CHECK(std::abs(moved.settled_s - (reference.settled_s - 0.7)) < 0.002);
    CHECK(std::abs(moved.end_s - (reference.end_s - 0.7)) < 1e-9);
}

TEST_CASE("cranking: battery voltage -> the same burst as the current, with its levels") {
    const signals::Crank crank;
    Trace trace = current_trace(crank);
    trace.quantity = Quantity::voltage;
    trace.unit = "V";
    for (float& v : trace.values) v = 12.6F - 0.01F * v;
    const Cranking cranking = locate(trace);
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(std::abs(cranking.start_s - 0.3) < 0.002);
    CHECK(std::abs(cranking.end_s - 4.3) < 0.02);
    REQUIRE(cranking.resting_v);
    CHECK(*cranking.resting_v == doctest::Approx(12.6).epsilon(0.002));
    REQUIRE(cranking.lowest_v);
    CHECK(*cranking.lowest_v == doctest::Approx(12.6 - 5.0).epsilon(0.05));
    CHECK_FALSE(cranking.inrush_a);

    // A battery that gives in: 0.9 V a second from the start, so that the end lies lower than the inrush.
    Trace sinking = trace;
    for (std::size_t i = 0; i < sinking.values.size(); ++i)
        sinking.values[i] -= 0.9F * static_cast<float>(std::clamp(sinking.time_s(i) - 0.3, 0.0, 4.0));
    const Cranking low = locate(sinking);
    REQUIRE(low.lowest_v);
    const auto at = [&](double s) {
        return sinking.values.begin() + static_cast<std::ptrdiff_t>(sinking.sample_at(s));
    };
    CHECK(*low.lowest_v == static_cast<double>(*std::min_element(at(low.start_s), at(low.end_s))));
    CHECK(*low.lowest_v < *cranking.lowest_v - 0.2);
    // Where the range cuts it off it is not known.
    sinking.clipped = {{sinking.sample_at(2.0), sinking.sample_at(2.1)}};
    CHECK_FALSE(locate(sinking).lowest_v);
}

TEST_CASE("cranking: the recording begins while the starter turns -> no inrush is claimed") {
    signals::Crank crank;
    crank.before_s = 0;
    auto trace = current_trace(crank);
    trace.values.erase(trace.values.begin(), trace.values.begin() + 800);
    const Cranking cranking = locate(trace);
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK_FALSE(cranking.inrush_a);
    CHECK(std::any_of(cranking.notices.begin(), cranking.notices.end(),
                      [](const Notice& n) { return n.code == "no-inrush"; }));
}

TEST_CASE("cranking: nothing, a constant, noise about zero, too short -> a reason and no times") {
    CHECK(locate({}).no_cranking);
    Trace flat{.quantity = Quantity::current, .rate_hz = 1000, .values = std::vector<float>(3000, 0.0F)};
    CHECK(locate(flat).no_cranking);
    signals::Crank brief;
    brief.cranking_s = 0.2;
    CHECK(locate(current_trace(brief)).no_cranking);
    const auto too_little = locate(current_trace({}), {.from_s = 2.0, .to_s = 2.1});
    CHECK(too_little.no_cranking.value_or("").find("--from and --to") != std::string::npos);
    // Options that were not given are not blamed.
    Trace eight = current_trace({});
    eight.values.resize(8);
    const std::string reason = locate(eight).no_cranking.value_or("");
    CHECK(reason.find("recording lasts less than half a second") != std::string::npos);
}

TEST_CASE("cranking: so few samples a second that nothing settles -> a reason, whatever the rate") {
    for (const double rate_hz : {0.5, 1.0, 2.0, 3.0, 5.0, 8.0})
        for (std::size_t at = 1; at < 13; ++at) {
            CAPTURE(rate_hz);
            CAPTURE(at);
            Trace trace{.quantity = Quantity::current, .rate_hz = rate_hz, .values = {}};
            for (std::size_t i = 0; i < 14; ++i)
                trace.values.push_back(i == at ? 500.0F : i % 2 ? 0.02F : -0.02F);
            const Cranking cranking = locate(trace);
            CHECK((cranking.no_cranking || cranking.start_s <= cranking.end_s));
        }
    Trace trace{
        .quantity = Quantity::current, .rate_hz = 2, .values = {0, 0, 0, 1e-6F, 0, 500, 0, 0, 0, 0, 0}};
    CHECK(locate(trace).no_cranking.value_or("").find("At 2 samples per second") == 0);
}

TEST_CASE(
    "cranking: battery voltage of a simulated engine -> release and start told apart, the end where it was "
    "put") {
    // COMPUTED: the truth of the project's own simulation, whose battery recovers part of its dip slowly.
    for (const CrankingEnd ends_by : {CrankingEnd::release, CrankingEnd::engine_start})
        for (const std::uint64_t seed : {1U, 4U, 7U}) {
            CAPTURE(seed);
            SynthOptions options;
            options.engine.layout = make_layout(4, {}, {}, {});
            options.run.ends_by = ends_by;
            options.run.stop_s = 4.8;
            options.chain.rate_hz = 2000;
            options.chain.current = false;
            const SynthResult made = synthesise(options, seed);
            const Cranking cranking =
                locate(pick(made.recording, {.channel = "Battery", .quantity = Quantity::voltage}));
            REQUIRE_FALSE(cranking.no_cranking);
            CHECK(cranking.ended_by == ends_by);
            // The first charge fires at a TDC; the next compression peaks one event (180 degrees) later. An
            // end before that counts no compression of an engine that fires.
            CHECK(std::abs(cranking.end_s - made.truth.end_s) < 0.5 * 60 / made.truth.speed_rpm);
        }
}

TEST_CASE("cranking: --from inside the cranking -> no inrush is claimed") {
    const Cranking cranking = locate(current_trace({}), {.from_s = 2.0});
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK_FALSE(cranking.inrush_a);
    CHECK(std::any_of(cranking.notices.begin(), cranking.notices.end(),
                      [](const Notice& n) { return n.code == "no-inrush"; }));
}

TEST_CASE("cranking: four seconds in a quarter of an hour -> found where they are") {
    signals::Crank crank;
    crank.rate_hz = 500;
    crank.before_s = 600;
    crank.after_s = 300;
    const Cranking cranking = locate(current_trace(crank));
    REQUIRE_FALSE(cranking.no_cranking);
    CHECK(std::abs(cranking.start_s - 600) < 0.01);
    CHECK(std::abs(cranking.end_s - 604) < 0.05);
}

TEST_CASE("cranking: --from or --to outside a recording -> refused, with its name and length") {
    Recording recording{.path = "turns.csv", .start_s = -0.5, .duration_s = 2};
    for (const LocateOptions& outside :
         {LocateOptions{.from_s = 1.5, .to_s = {}}, LocateOptions{.from_s = {}, .to_s = -0.5}}) {
        try {
            require_inside(recording, outside);
            FAIL("not refused");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            CHECK(error.place() == "turns.csv");
            CHECK(std::string(error.what()).find("the recording lasts 2.00 s") != std::string::npos);
        }
    }
    CHECK_NOTHROW(require_inside(recording, {.from_s = -3.0, .to_s = 1.0}));
}

TEST_CASE("cranking: too short a part of a wheel's recording -> said") {
    Trace wheel;
    wheel.quantity = Quantity::wheel;
    wheel.channel = "Crank";
    for (int tooth = 0; tooth < 400; ++tooth) wheel.edges.push_back({0.005 * tooth, tooth % 2 == 0});
    const Cranking narrow = locate(wheel, {.from_s = 1.0, .to_s = 1.02});
    REQUIRE(narrow.no_cranking);
    CHECK(narrow.no_cranking->find("choose a longer part") != std::string::npos);
    CHECK_FALSE(locate(wheel, {.from_s = 0.5, .to_s = {}}).no_cranking);
}

TEST_CASE("cranking: a load without ripple -> flat; with the ripple of compressions -> not") {
    signals::Crank crank;
    const Cranking usual = locate(current_trace(crank));
    REQUIRE(usual.swing_ratio);
    CHECK_FALSE(flat(usual));
    for (const double noise_a : {0.5, 4.0}) {
        CAPTURE(noise_a);
        crank.hump_a = 0;  // plugs out
        crank.noise_a = noise_a;
        const Cranking cranking = locate(current_trace(crank));
        CHECK_FALSE(cranking.no_cranking);
        CHECK(flat(cranking));
    }
}

TEST_CASE("cranking: the full inrush all along -> the engine does not turn, and what to look for") {
    signals::Crank crank;
    crank.hump_a = 0;
    crank.mean_a = crank.inrush_a;
    const Cranking cranking = locate(current_trace(crank));
    REQUIRE(cranking.no_cranking);
    CHECK(cranking.no_cranking->find("does not turn") != std::string::npos);
    // Half of it is a starter that turns something.
    crank.mean_a = crank.inrush_a / 2;
    CHECK_FALSE(locate(current_trace(crank)).no_cranking);
}

TEST_CASE(
    "cranking: the humps end while the key is held -> engine start at the last of them, released or not") {
    const signals::Crank crank;
    Trace trace = current_trace(crank);
    const double low_a = signals::load_a(crank, 2.0 + 0.1 + 0.075) < signals::load_a(crank, 2.0 + 0.1)
                             ? signals::load_a(crank, 2.0 + 0.1 + 0.075)
                             : signals::load_a(crank, 2.0 + 0.1);
    // From 3.4 s on (in the fourth second of cranking) the starter idles.
    for (std::size_t i = 0; i < trace.values.size(); ++i) {
        const double time_s = static_cast<double>(i) / crank.rate_hz;
        if (time_s > 3.4 && time_s < 4.3) trace.values[i] = static_cast<float>(low_a);
    }
    const Cranking released = locate(trace);
    CHECK(released.ended_by == CrankingEnd::engine_start);
    CHECK(released.end_s > 3.15);
    CHECK(released.end_s < 3.45);
    trace.values.resize(static_cast<std::size_t>(4.2 * crank.rate_hz));
    const Cranking cut_off = locate(trace);
    CHECK(cut_off.ended_by == CrankingEnd::engine_start);
    CHECK(std::abs(cut_off.end_s - released.end_s) < 0.01);
}

namespace {

/// The clamp round the battery's cable, where another consumer draws `drawn_a` from `from_s` to `to_s` too.
Trace with_consumer(const signals::Crank& crank, double drawn_a, double from_s, double to_s) {
    auto recording = signals::clamp_and_sync(crank);
    auto& values = recording.channels[0].values;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double t = static_cast<double>(i) / crank.rate_hz;
        if (t >= from_s && t < to_s) values[i] += static_cast<float>(drawn_a);
    }
    return pick(recording, {.channel = "Clamp", .quantity = Quantity::current});
}

std::string text_of(const Cranking& cranking, const std::string& code) {
    for (const Notice& notice : cranking.notices)
        if (notice.code == code) return notice.text;
    return {};
}

}  // namespace

TEST_CASE(
    "cranking: glow plugs go off while the starter turns on -> no engine start, their step is the end") {
    const signals::Crank crank{.after_s = 0.8};  // from 0.3 to 4.3 s
    for (const double off_s : {2.0, 2.5, 2.9, 3.6}) {
        CAPTURE(off_s);
        const Cranking cranking = locate(with_consumer(crank, 90, 0, off_s));
        REQUIRE_FALSE(cranking.no_cranking);
        CHECK(cranking.ended_by == CrankingEnd::release);
        // The load is smoothed over 10 ms before the step is looked for.
        CHECK(std::abs(cranking.end_s - off_s) < 0.03);
        CHECK(cranking.settled_s < 1.0);  // by the level before the step
        CHECK(text_of(cranking, "load-switched-off").find("glow plugs") != std::string::npos);
    }
    const Cranking none = locate(with_consumer(crank, 0, 0, 0));
    CHECK(text_of(none, "load-switched-off").empty());
    CHECK(std::abs(none.end_s - 4.3) < 0.03);
}

TEST_CASE("cranking: tens of amperes still flow when the key is let go -> a release all the same") {
    const signals::Crank crank{.after_s = 0.5};
    for (const double drawn_a : {30.0, 60.0, 80.0}) {
        CAPTURE(drawn_a);
        const Cranking cranking = locate(with_consumer(crank, drawn_a, 2.0, 10));
        REQUIRE_FALSE(cranking.no_cranking);
        CHECK(cranking.ended_by == CrankingEnd::release);
        CHECK(std::abs(cranking.end_s - 4.3) < 0.03);
    }
    // A starter that an engine outruns idles at as much, but comes there slowly.
    signals::Crank started = crank;
    started.starts = true;
    started.after_s = 1.5;
    CHECK(locate(with_consumer(started, 60, 2.0, 10)).ended_by == CrankingEnd::engine_start);
}
