// Wheels with a known law of speed: every edge is placed exactly, so the answers are closed forms.
#include <doctest/doctest.h>

#include <cmath>
#include <numeric>

#include "angle/wheel.hpp"
#include "contribution/wheel_contribution.hpp"
#include "cranking/wheel_cranking.hpp"
#include "evenstroke/error.hpp"
#include "signal/edges.hpp"

using namespace evenstroke;

namespace {

/// 1/speed = (1 + swing sin(order * angle)) / mean: time at an angle is a closed form.
struct Law {
    double mean_rad_per_s = 21;
    double swing = 0;
    double order = 2;
    [[nodiscard]] double time_s(double angle_deg) const {
        const double a = angle_deg * pi / 180;
        return (a + swing / order * (1 - std::cos(order * a))) / mean_rad_per_s;
    }
    [[nodiscard]] double rad_per_s(double angle_deg) const {
        return mean_rad_per_s / (1 + swing * std::sin(order * angle_deg * pi / 180));
    }
};

/// Teeth a third of the smallest pitch wide; the falling edge is the exact one.
std::vector<Edge> edges_of(const WheelPattern& pattern, const Law& law, double turns, bool reversed = false) {
    std::vector<Edge> edges;
    double angle = 40;
    std::size_t tooth = pattern.pitch_deg.size() / 2;
    while (angle < 40 + 360 * turns) {
        edges.push_back({law.time_s(angle - 1.5), !reversed});
        edges.push_back({law.time_s(angle), reversed});
        angle += pattern.pitch_deg[tooth];
        tooth = (tooth + 1) % pattern.pitch_deg.size();
    }
    return edges;
}

double worst_angle_error_deg(const WheelTeeth& teeth, const Law& law) {
    // The wheel's zero is unknown; all teeth must share one offset.
    double worst = 0;
    const auto turned = [&](double t) {  // inverse of the law by bisection
        double low = 0;
        double high = 1e5;
        for (int i = 0; i < 80; ++i) (law.time_s((low + high) / 2) < t ? low : high) = (low + high) / 2;
        return low;
    };
    const double offset = turned(teeth.time_s[0]) - teeth.angle_deg[0];
    for (std::size_t i = 0; i < teeth.time_s.size(); ++i)
        worst = std::max(worst, std::abs(turned(teeth.time_s[i]) - teeth.angle_deg[i] - offset));
    return worst;
}

/// Each kind of edge is regular here, only the offset differs; 1e-4 degrees is the bisection and rounding.
constexpr double exact_deg = 1e-4;

Trace trace_of(std::vector<Edge> edges) {
    Trace trace;
    trace.quantity = Quantity::wheel;
    trace.channel = "wheel";
    trace.edges = std::move(edges);
    return trace;
}

}  // namespace

TEST_CASE("wheel: patterns as written -> pitches that fill a turn") {
    const std::pair<const char*, std::size_t> cases[] = {{"60-2", 58},     {"36-1", 35},  {"24-0", 24},
                                                         {"36-2-2-2", 30}, {"12+1", 13},  {"70,110", 4},
                                                         {"10x9,30", 30},  {"1,1,1,3", 4}};
    for (const auto& [text, teeth] : cases) {
        CAPTURE(text);
        const WheelPattern pattern = parse_wheel(text);
        CHECK(pattern.pitch_deg.size() == teeth);
        CHECK(std::abs(std::accumulate(pattern.pitch_deg.begin(), pattern.pitch_deg.end(), 0.0) - 360) <
              1e-9);
    }
    CHECK(std::abs(parse_wheel("60-2").pitch_deg.back() - 18) < 1e-9);
}

TEST_CASE("wheel: nonsense as a pattern -> refused with a remedy") {
    for (const char* text : {"", "60", "60-60", "-2", "36-2-2-2-2-2-2-2", "12+2", "70,100", "a,b", "0-0",
                             "6.5-1", "10,-10", "1e9-1", "70,nan"}) {
        CAPTURE(text);
        try {
            (void)parse_wheel(text);
            FAIL_CHECK("accepted");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::bad_option);
            CHECK_FALSE(error.remedy().empty());
        }
    }
}

TEST_CASE("wheel: prescribed swing of speed -> every tooth at its angle, speed recovered") {
    for (const char* text : {"60-2", "36-1", "24-0", "36-2-2-2", "12+1", "70,110"})
        for (const double swing : {0.0, 0.2, 0.3}) {
            CAPTURE(text);
            CAPTURE(swing);
            const Law law{21, swing, 2};
            const auto teeth = align_teeth(edges_of(parse_wheel(text), law, 8), parse_wheel(text));
            REQUIRE(teeth);
            CHECK(teeth->missed + teeth->extra == 0);
            CHECK(worst_angle_error_deg(*teeth, law) < exact_deg);
            CHECK(std::abs(speed_of_last_turn_rpm(*teeth, 1e9).value() - 21 * 30 / pi) < 1e-3);
        }
}

TEST_CASE("wheel: a fine wheel's tooth periods -> the speed law within the mean over a tooth") {
    const Law law{25, 0.2, 2};
    const auto teeth = align_teeth(edges_of(parse_wheel("60-2"), law, 6), parse_wheel("60-2"));
    REQUIRE(teeth);
    const ToothSpeed speed = tooth_speed(teeth->time_s, teeth->angle_deg, false);
    for (std::size_t i = 1; i < speed.time_s.size(); ++i) {
        // Mean over the pitch against the law at its middle: (order*pitch)^2/24 of the swing, 0.1 to 1 %.
        double low = 0;
        double high = 1e4;
        for (int k = 0; k < 60; ++k)
            (law.time_s((low + high) / 2) < speed.time_s[i] ? low : high) = (low + high) / 2;
        CHECK(std::abs(speed.rad_per_s[i] - law.rad_per_s(low)) < 0.012 * 25);
    }
}

TEST_CASE("wheel: levels reversed -> the same angles by the other edge") {
    const Law law{21, 0.2, 2};
    const auto upright = align_teeth(edges_of(parse_wheel("60-2"), law, 5), parse_wheel("60-2"));
    const auto reversed = align_teeth(edges_of(parse_wheel("60-2"), law, 5, true), parse_wheel("60-2"));
    REQUIRE(upright);
    REQUIRE(reversed);
    CHECK(upright->rising != reversed->rising);
    CHECK(upright->time_s == reversed->time_s);
}

TEST_CASE("wheel: a tooth missed, an edge too many, bounce -> repaired, no angle moves") {
    const Law law{21, 0.2, 2};
    const WheelPattern pattern = parse_wheel("60-2");
    auto edges = edges_of(pattern, law, 6);
    edges.erase(edges.begin() + 300, edges.begin() + 302);
    const double middle = (edges[401].time_s + edges[402].time_s) / 2;
    edges.insert(edges.begin() + 402, {{middle, true}, {middle + 2e-4, false}});
    edges.insert(edges.begin() + 500, {{edges[499].time_s + 2e-6, edges[500].rising},
                                       {edges[499].time_s + 4e-6, edges[499].rising}});
    const auto teeth = align_teeth(signal::without_bounce(edges), pattern);
    REQUIRE(teeth);
    CHECK(teeth->missed == 1);
    CHECK(teeth->extra == 1);
    // Of the bounce the last edge stays, 4 microseconds late: 0.005 degrees at 21 rad/s.
    CHECK(worst_angle_error_deg(*teeth, law) < 0.01);
}

TEST_CASE(
    "wheel: a sine whose amplitude grows twentyfold, offset and noise -> edges within a hundredth of a "
    "tooth") {
    constexpr double rate = 10'000;
    std::vector<float> values;
    for (int i = 0; i < 20'000; ++i) {
        const double t = i / rate;
        const double noise = 0.02 * std::sin(t * 7919.0 * 40);
        values.push_back(static_cast<float>(3 + (0.2 + 2 * t) * -std::sin(2 * pi * 100 * t) + noise * 0.2));
    }
    const auto edges = signal::find_edges(values, rate, 0);
    REQUIRE(edges.size() > 390);
    CHECK(edges.size() <= 400);
    std::size_t k = 0;
    for (const Edge& edge : edges) {
        const double place = edge.time_s * 200;  // zero crossings every half period
        CHECK(std::abs(place - std::round(place)) < 0.02);
        ++k;
    }
}

TEST_CASE("wheel: nothing, a constant, three edges -> no edges, no angle, no cranking") {
    CHECK(signal::find_edges({}, 1000, 0).empty());
    CHECK(signal::find_edges(std::vector<float>(1000, 2.5F), 1000, 0).empty());
    CHECK_FALSE(align_teeth({}, parse_wheel("60-2")));
    const std::vector<Edge> few = {{0, true}, {1, false}, {2, true}};
    CHECK_FALSE(align_teeth(few, parse_wheel("2-0")));
    CHECK(locate_wheel(trace_of({})).no_cranking);
    CHECK(locate_wheel(trace_of(few)).no_cranking);
    CHECK_FALSE(recognise_wheel({}, 4));
}

TEST_CASE("wheel: pattern not told -> known by its gap; an even wheel without ripple is not guessed") {
    const Law law{21, 0.2, 2};
    for (const char* text : {"60-2", "36-1", "36-2-2-2", "12+1"}) {
        CAPTURE(text);
        const auto found = recognise_wheel(edges_of(parse_wheel(text), law, 6), 4);
        REQUIRE(found);
        CHECK(found->text == text);
    }
    CHECK(recognise_wheel(edges_of(parse_wheel("24-0"), law, 8), 4).value().text == "24-0");
    CHECK_FALSE(recognise_wheel(edges_of(parse_wheel("24-0"), Law{21, 0, 2}, 8), 4));
}

TEST_CASE("wheel: even speed with a fine wheel -> nothing compresses, and no cylinder is judged") {
    const Trace trace = trace_of(edges_of(parse_wheel("60-2"), Law{21, 0.005, 2}, 16));
    const Cranking cranking = locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    ReferenceOptions options;
    options.wheel = parse_wheel("60-2");
    const CrankAngle angle = reference_by_wheel({}, trace, cranking, layout, options);
    CHECK(angle.once_per_turn);
    CHECK(angle.cycles >= 6);
    const Contribution contribution = wheel_contribution(cranking, angle, layout);
    REQUIRE(contribution.inconclusive);
    CHECK(contribution.inconclusive->find("nothing compresses") != std::string::npos);
    CHECK(std::abs(contribution.speed_rpm.value().value - 21 * 30 / pi) < 0.1);
}

namespace {

/// A crank of an invented engine, integrated in small steps: inertia, a starter whose torque falls with
/// speed, and adiabatic gas (exponent 1.35, ratio 9.5: not the model's own). Simulation, not an engine.
std::vector<Edge> simulated(const std::vector<double>& share, double seconds) {
    const WheelPattern pattern = parse_wheel("60-2");
    Geometry geometry;
    geometry.compression_ratio = 9.5;
    std::vector<Edge> edges;
    double angle = 0;
    double omega = 20;
    double next = 6;
    std::size_t tooth = 0;
    constexpr double step_s = 2e-5;
    for (double t = 0; t < seconds; t += step_s) {
        double torque = 150 - 4.0 * omega;
        for (std::size_t i = 0; i < share.size(); ++i) {
            const double a = std::remainder(
                angle - 720.0 / static_cast<double>(share.size()) * static_cast<double>(i) - 60, 720.0);
            if (a < -135 || a > 135) continue;
            const double closed = volume_m3(geometry, -135 * pi / 180);
            const double gauge =
                1e5 * (std::pow(closed / volume_m3(geometry, a * pi / 180), 1.35) - 1) * share[i];
            torque += gauge * volume_slope_m3_per_rad(geometry, a * pi / 180);
        }
        omega += torque / 0.5 * step_s;
        const double before = angle;
        angle += omega * step_s * 180 / pi;
        while (angle >= next) {
            const double at = t + step_s * (next - before) / (angle - before);
            edges.push_back({at, false});
            edges.push_back({at + 5e-4, true});
            next += pattern.pitch_deg[tooth];
            tooth = (tooth + 1) % pattern.pitch_deg.size();
        }
    }
    return edges;
}

}  // namespace

TEST_CASE("wheel: simulated four, one cylinder at 60 % -> found weak, healthy ones not") {
    const Trace trace = trace_of(simulated({1, 1, 0.6, 1}, 4.5));
    const Cranking cranking = locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    ReferenceOptions options;
    options.wheel = parse_wheel("60-2");
    const CrankAngle angle = reference_by_wheel({}, trace, cranking, layout, options);
    const Contribution contribution = wheel_contribution(cranking, angle, layout);
    REQUIRE_FALSE(contribution.inconclusive);
    int weak = 0;
    int healthy = 0;
    for (const auto& cylinder : contribution.cylinders) {
        MESSAGE(cylinder.contribution_pct.value()
                << " [" << cylinder.low_pct.value() << ", " << cylinder.high_pct.value() << "]");
        if (cylinder.high_pct.value() < 75) ++weak;
        if (cylinder.contribution_pct.value() > 90) ++healthy;
    }
    CHECK(weak == 1);
    CHECK(healthy == 3);
}
