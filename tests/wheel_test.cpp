// Wheels with a known law of speed: every edge is placed exactly, so the answers are closed forms.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>

#include "angle/wheel.hpp"
#include "angle/wheel_angle.hpp"
#include "contribution/wheel_contribution.hpp"
#include "cranking/wheel_bursts.hpp"
#include "cranking/wheel_cranking.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/error.hpp"
#include "evenstroke/synth.hpp"
#include "signal/edges.hpp"
#include "support/last_turn.hpp"
#include "support/once.hpp"
#include "values/notices.hpp"

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
    for (const auto& row : cases) {
        const char* const text = row.first;
        const std::size_t teeth = row.second;
        CAPTURE(text);
        const WheelPattern pattern = parse_wheel(text);
        CHECK(pattern.pitch_deg.size() == teeth);
        CHECK(std::abs(std::accumulate(pattern.pitch_deg.begin(), pattern.pitch_deg.end(), 0.0) - 360) <
              1e-9);
    }
    CHECK(std::abs(parse_wheel("60-2").pitch_deg.back() - 18) < 1e-9);
}

TEST_CASE("wheel: nonsense as a pattern -> refused with a remedy") {
    for (const char* text :
         {"", "60", "60-60", "-2", "36-2-2-2-2-2-2-2", "12+2", "70,100", "a,b", "0-0", "6.5-1", "10,-10",
          "1e9-1", "70,nan", "1,1e308,1e308", "1e-320,1", "5e-324,5e-324", "1,1000"}) {
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
            CHECK(std::abs(test::speed_of_last_turn_rpm(*teeth, 1e9).value() - 21 * 30 / pi) < 1e-3);
        }
}

TEST_CASE("wheel: a fine wheel's tooth periods -> the speed law within the mean over a tooth") {
    const Law law{25, 0.2, 2};
    const auto teeth = align_teeth(edges_of(parse_wheel("60-2"), law, 6), parse_wheel("60-2"));
    REQUIRE(teeth);
    const ToothSpeed speed = tooth_speed(teeth->time_s, teeth->angle_deg, false);
    REQUIRE(speed.time_s.size() == teeth->time_s.size() - 1);
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
    CHECK(cranking::locate_wheel(trace_of({})).no_cranking);
    CHECK(cranking::locate_wheel(trace_of(few)).no_cranking);
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

TEST_CASE("wheel: a wheel that is not among the known ones -> known by the mark that returns" * test::once) {
    // Half the teeth of 60-2 or 36-1, twice those of 12-1, one tooth fewer in the gap, and an extra tooth.
    const std::pair<const char*, const char*> cases[] = {
        {"30-1", "30-1"}, {"18-1", "18-1"}, {"24-2", "24-2"}, {"50-2", "50-2"}, {"60-1", "60-1"},
        {"32-2", "32-2"}, {"48-2", "48-2"}, {"35-1", "35-1"}, {"43-1", "43-1"}, {"5,5,10x35", "36+1"}};
    for (const auto& row : cases)
        for (const int cylinders : {3, 4, 6}) {
            CAPTURE(std::string(row.first));
            CAPTURE(cylinders);
            const Law law{21, 0.2, cylinders / 2.0};
            const auto found = recognise_wheel(edges_of(parse_wheel(row.first), law, 10), cylinders);
            REQUIRE(found);
            CHECK(found->text == row.second);
        }
}

TEST_CASE("wheel: a tooth missed in one turn of eight, an edge too many in another -> known all the same") {
    for (const char* text : {"48-2", "30-1", "60-2"}) {
        CAPTURE(std::string(text));
        const WheelPattern pattern = parse_wheel(text);
        auto edges = edges_of(pattern, Law{21, 0.2, 2}, 24);
        const std::size_t turn = 2 * pattern.pitch_deg.size();
        for (const std::size_t nth : {20U, 12U, 6U}) {
            const std::size_t at = nth * turn + 8;
            const double middle = (edges[at + 1].time_s + edges[at + 2].time_s) / 2;
            edges.insert(edges.begin() + static_cast<std::ptrdiff_t>(at + 2),
                         {{middle, true}, {middle + 2e-4, false}});
        }
        for (const std::size_t nth : {17U, 9U, 3U}) {
            const auto at = edges.begin() + static_cast<std::ptrdiff_t>(nth * turn + 20);
            edges.erase(at, at + 2);
        }
        const auto found = recognise_wheel(edges, 4);
        REQUIRE(found);
        CHECK(found->text == text);
    }
}

TEST_CASE("wheel: more than one gap a turn, a wider one, or uneven ones -> never taken for a wheel with one" *
          test::once) {
    for (const char* text : {"36-3", "36-2-2", "24-1-1", "60-2-2", "36-1-1", "36-1-1-1", "60-1-1-1",
                             "10x11,20,10x20,30", "10x2,20,10x30,20"})
        for (const int cylinders : {3, 4, 6})
            for (const double rad_per_s : {12.0, 21.0}) {
                CAPTURE(std::string(text));
                CAPTURE(cylinders);
                CAPTURE(rad_per_s);
                const Law law{rad_per_s, 0.2, cylinders / 2.0};
                CHECK_FALSE(recognise_wheel(edges_of(parse_wheel(text), law, 12), cylinders));
            }
}

TEST_CASE("wheel: a mark that returns, but no telling how often a turn -> the pattern is asked for") {
    const WheelPattern pattern = parse_wheel("40-1");
    REQUIRE(recognise_wheel(edges_of(pattern, Law{21, 0.2, 2}, 12), 4));
    // Not how many cylinders, no ripple, a speed that no starter reaches.
    CHECK_FALSE(recognise_wheel(edges_of(pattern, Law{21, 0.2, 2}, 12), 0));
    CHECK_FALSE(recognise_wheel(edges_of(pattern, Law{21, 0, 2}, 12), 4));
    CHECK_FALSE(recognise_wheel(edges_of(pattern, Law{60, 0.2, 2}, 12), 4));
    // One compression a "turn" of a four: two of the cylinders are dead, or the wheel is 80-1-1.
    CHECK_FALSE(recognise_wheel(edges_of(pattern, Law{21, 0.2, 1}, 12), 4));
    // Four: it is on the cam, 100 rpm for a crank at 200. A known wheel is no better there.
    CHECK_FALSE(recognise_wheel(edges_of(pattern, Law{10.5, 0.2, 4}, 12), 4));
    CHECK_FALSE(recognise_wheel(edges_of(parse_wheel("60-2"), Law{10.5, 0.2, 4}, 12), 4));
}

TEST_CASE(
    "wheel: even teeth on a ten that fires unevenly -> not counted by its ripple, the pattern is asked for") {
    // Firings 90 and 54 degrees apart make a ripple of five a cycle; as ten of them, 24 teeth are 48.
    const Trace trace = trace_of(edges_of(parse_wheel("24-0"), Law{21, 0.2, 2.5}, 12));
    Cranking cranking;
    cranking.end_s = trace.edges.back().time_s;
    const auto layout = make_layout({}, {}, {90, 54, 90, 54, 90, 54, 90, 54, 90, 54}, {});
    CHECK_THROWS_AS((void)angle::reference_by_wheel({}, trace, cranking, layout, {}), Error);
}

TEST_CASE("wheel: its pattern found, a tooth bridged -> both are said; told and whole -> neither") {
    const WheelPattern pattern = parse_wheel("60-2");
    std::vector<Edge> edges = edges_of(pattern, Law{}, 12);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    const auto refer = [&](const ReferenceOptions& options) {
        const Trace trace = trace_of(edges);
        return angle::reference_by_wheel({}, trace, cranking::locate_wheel(trace), layout, options);
    };
    const CrankAngle told = refer({.wheel = pattern});
    CHECK(has_notice(told.notices, "wheel-edges"));
    CHECK_FALSE(has_notice(told.notices, "wheel-recognised"));
    CHECK_FALSE(has_notice(told.notices, "teeth-repaired"));
    const CrankAngle found = refer({});
    CHECK(has_notice(found.notices, "wheel-recognised"));
    CHECK_FALSE(has_notice(found.notices, "teeth-repaired"));
    edges.erase(edges.begin() + 600, edges.begin() + 602);
    const CrankAngle repaired = refer({.wheel = pattern});
    CHECK_FALSE(has_notice(repaired.notices, "wheel-recognised"));
    CHECK(has_notice(repaired.notices, "teeth-repaired"));
    edges.resize(80);  // 40 of 58 teeth: no turn, so no angle by any of their edges
    const CrankAngle none = refer({.wheel = pattern});
    CHECK(none.no_reference);
    CHECK_FALSE(has_notice(none.notices, "wheel-edges"));
}

TEST_CASE("wheel: ever faster while it cranks -> never settled, and it is said; a steady one -> not") {
    const auto cranked = [](double growth_per_s) {
        std::vector<Edge> edges;
        for (int tooth = 0; tooth < 600; ++tooth) {  // 60 teeth, from 100 rpm on: 100 of them a second
            const double steady_s = tooth / 100.0;
            const double t = growth_per_s > 0 ? std::log1p(growth_per_s * steady_s) / growth_per_s : steady_s;
            edges.push_back({t, false});
            edges.push_back({t + 5e-4, true});
        }
        return cranking::locate_wheel(trace_of(std::move(edges)));
    };
    CHECK(has_notice(cranked(1).notices, "never-settled"));
    CHECK(cranked(0).notices.empty());
}

TEST_CASE("wheel: even speed with a fine wheel -> nothing compresses, and no cylinder is judged") {
    const Trace trace = trace_of(edges_of(parse_wheel("60-2"), Law{21, 0.005, 2}, 16));
    const Cranking cranking = cranking::locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    ReferenceOptions options;
    options.wheel = parse_wheel("60-2");
    const CrankAngle angle = angle::reference_by_wheel({}, trace, cranking, layout, options);
    CHECK(angle.once_per_turn);
    CHECK(angle.cycles >= 6);
    const Contribution contribution = contribution::estimate_wheel(cranking, angle, layout);
    REQUIRE(contribution.inconclusive);
    CHECK(contribution.inconclusive->find("nothing compresses") != std::string::npos);
    CHECK(std::abs(contribution.speed_rpm.value().value - 21 * 30 / pi) < 0.1);
}

namespace {

struct Engine {
    double inertia_kgm2 = 0.5;
    double starter_nm = 220;              ///< standing; no load at 44 rad/s, which the crank does not reach
    double starter_nm_per_rad_per_s = 5;  ///< torque lost with speed; never below zero: the clutch lets go
    double friction_nm = 80;
    double jitter_s = 0;  ///< half width of an even spread of the edges' times
};

/// A crank of an invented engine, integrated in small steps: inertia, a starter whose torque falls with
/// speed, and adiabatic gas (exponent 1.35, ratio 9.5: not the model's own). Simulation, not an engine.
/// `charge`: share of a full charge that each cylinder traps, so that its top pressure falls short by
/// somewhat more; 0 stays open all along.
std::vector<Edge> simulated(const std::vector<double>& charge, double seconds, const Engine& engine = {}) {
    const WheelPattern pattern = parse_wheel("60-2");
    Geometry geometry;
    geometry.compression_ratio = 9.5;
    const double closed = volume_m3(geometry, -135 * pi / 180);
    std::vector<double> full;  // absolute, ambient = 1; by degree from -135 to 135, then nothing
    std::vector<double> turn_nm;
    for (int a = -135; a <= 135; ++a) {
        full.push_back(std::pow(closed / volume_m3(geometry, a * pi / 180), 1.35));
        turn_nm.push_back(1e5 * volume_slope_m3_per_rad(geometry, a * pi / 180));
    }
    std::mt19937 random(1);
    std::uniform_real_distribution<double> jitter(-engine.jitter_s, engine.jitter_s);
    std::vector<Edge> edges;
    double angle = 0;
    double omega = 15;
    double next = 6;
    std::size_t tooth = 0;
    constexpr double step_s = 2e-5;
    for (double t = 0; t < seconds; t += step_s) {
        double torque =
            std::max(0.0, engine.starter_nm - engine.starter_nm_per_rad_per_s * omega) - engine.friction_nm;
        for (std::size_t i = 0; i < charge.size(); ++i) {
            const double apart = 720.0 / static_cast<double>(charge.size());
            const double a = std::remainder(angle - apart * static_cast<double>(i) - 60, 720.0) + 135;
            if (a < 0 || a >= 270 || charge[i] == 0) continue;
            torque +=
                (charge[i] * full[static_cast<std::size_t>(a)] - 1) * turn_nm[static_cast<std::size_t>(a)];
        }
        omega += torque / engine.inertia_kgm2 * step_s;
        const double before = angle;
        angle += omega * step_s * 180 / pi;
        while (angle >= next) {
            const double at = t + step_s * (next - before) / (angle - before) + jitter(random);
            edges.push_back({at, false});
            edges.push_back({at + 5e-4, true});
            next += pattern.pitch_deg[tooth];
            tooth = (tooth + 1) % pattern.pitch_deg.size();
        }
    }
    return edges;
}

/// What a cylinder of simulated() compresses, of a full one.
double contribution_pct(double charge) {
    if (charge == 0) return 0;
    Geometry geometry;
    geometry.compression_ratio = 9.5;
    const double top = std::pow(volume_m3(geometry, -135 * pi / 180) / volume_m3(geometry, 0), 1.35);
    return 100 * (charge * top - 1) / (top - 1);
}

Contribution judged(const Trace& trace, int cylinders) {
    const Cranking cranking = cranking::locate_wheel(trace);
    const EngineLayout layout = make_layout(cylinders, {}, {}, {});
    ReferenceOptions options;
    options.wheel = parse_wheel("60-2");
    return contribution::estimate_wheel(
        cranking, angle::reference_by_wheel({}, trace, cranking, layout, options), layout);
}

}  // namespace

TEST_CASE("wheel: simulated engines with one cylinder down -> it alone is low, by what was put in" *
          test::once) {
    struct Case {
        std::vector<double> charge;
        Engine engine;
    };
    const Case cases[] = {{{1, 1, 0.6, 1}, {}},
                          {{1, 1, 1, 1}, {.jitter_s = 2e-5}},
                          {{1, 0.0, 1, 1}, {.jitter_s = 2e-5}},
                          {{1, 0.5, 1}, {.inertia_kgm2 = 0.4}},
                          {{1, 1, 1, 0.5, 1, 1}, {.inertia_kgm2 = 0.7}},
                          {{1, 1, 1, 1, 1, 0.5, 1, 1}, {.inertia_kgm2 = 1.2, .jitter_s = 2e-5}}};
    for (const Case& c : cases) {
        CAPTURE(c.charge.size());
        const auto result =
            judged(trace_of(simulated(c.charge, 5, c.engine)), static_cast<int>(c.charge.size()));
        REQUIRE_FALSE(result.inconclusive);
        // The half cycle and the first position are not known: compare in rising order.
        std::vector<double> found;
        std::vector<double> expected;
        for (const double charge : c.charge) expected.push_back(contribution_pct(charge));
        for (const auto& cylinder : result.cylinders) {
            found.push_back(cylinder.contribution_pct.value());
            CHECK((found.back() > 90) == (cylinder.high_pct.value() >= 99));
            MESSAGE(found.back() << " [" << cylinder.low_pct.value() << ", " << cylinder.high_pct.value()
                                 << "]");
        }
        std::sort(found.begin(), found.end());
        std::sort(expected.begin(), expected.end());
        REQUIRE(found.size() == expected.size());
        // Five points: half of what separates a low cylinder from a sound one in common practice (10 %).
        for (std::size_t i = 0; i < found.size(); ++i) CHECK(std::abs(found[i] - expected[i]) < 5);
    }
}

TEST_CASE("wheel: the clutch lets go after each TDC -> the low cylinder within its interval, none condemned" *
          test::once) {
    // A stiff starter that the crank overruns at 24 rad/s: outside the model.
    const Engine overrun{.inertia_kgm2 = 0.3,
                         .starter_nm = 500,
                         .starter_nm_per_rad_per_s = 500.0 / 24,
                         .friction_nm = 45,
                         .jitter_s = 2e-5};
    for (const double low : {1.0, 0.8, 0.5, 0.0}) {
        CAPTURE(low);
        const auto result = judged(trace_of(simulated({1, 1, low, 1}, 5, overrun)), 4);
        REQUIRE_FALSE(result.inconclusive);
        int holds = 0;
        int weak = 0;
        for (const auto& cylinder : result.cylinders) {
            MESSAGE(cylinder.contribution_pct.value()
                    << " [" << cylinder.low_pct.value() << ", " << cylinder.high_pct.value() << "]");
            if (cylinder.high_pct.value() < 75) ++weak;
            const double is = contribution_pct(low);
            if (cylinder.low_pct.value() <= is && cylinder.high_pct.value() >= is) ++holds;
        }
        CHECK(holds >= 1);
        // A half-dead cylinder may stay "unsure" here (doubt about the starter); a dead one may not.
        CHECK(weak <= (low < 0.75 ? 1 : 0));
        if (low == 0) CHECK(weak == 1);
    }
}

TEST_CASE("wheel: simulated four, one cylinder at 60 % -> its whole interval below 75 %, the others even") {
    const Contribution contribution = judged(trace_of(simulated({1, 1, 0.6, 1}, 4.5)), 4);
    REQUIRE_FALSE(contribution.inconclusive);
    int weak = 0;
    for (const auto& cylinder : contribution.cylinders)
        if (cylinder.high_pct.value() < 75) ++weak;
    CHECK(weak == 1);
}

TEST_CASE("wheel: sync once a cycle, or a lead -> zero of the angle lies at the TDC they tell") {
    const Law law{21, 0.2, 2};
    const WheelPattern pattern = parse_wheel("60-2");
    const Trace trace = trace_of(edges_of(pattern, law, 12));
    const Cranking cranking = cranking::locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    Recording recording;
    Channel cam{.name = "Cam", .unit = "", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    Channel cam_twice = cam;
    cam_twice.name = "Twice";
    for (int half = 0; half < 12; ++half) {
        const double at = 500 + 360.0 * half;
        auto& edges = cam_twice.edges;
        edges.push_back({law.time_s(at), true});
        edges.push_back({law.time_s(at + 30), false});
        if (half % 2 == 0) {
            cam.edges.push_back({law.time_s(at), true});
            cam.edges.push_back({law.time_s(at + 30), false});
        }
    }
    recording.channels = {cam, cam_twice};
    ReferenceOptions options;
    options.wheel = pattern;
    options.sync = "Cam";
    options.sync_lead_deg = 100;
    const CrankAngle synced = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK_FALSE(synced.once_per_turn);
    CHECK_FALSE(has_notice(synced.notices, "half-cycle"));
    // The cam's edge falls between teeth: linear interpolation over 6 degrees of a 20 % swing, under 0.1
    // degree.
    CHECK(synced.offset_sd_deg < 0.1);
    const auto at = static_cast<std::size_t>(
        std::lower_bound(synced.time_s.begin(), synced.time_s.end(), law.time_s(600)) -
        synced.time_s.begin());
    CHECK(std::abs(std::remainder(synced.angle_deg[at], 720)) < 6.1);  // the next tooth after 500 + 100

    // Upside down the leading edge is the falling one: nothing moves.
    for (Edge& edge : recording.channels[0].edges) edge.rising = !edge.rising;
    const CrankAngle inverted = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK(std::abs(inverted.angle_deg[10] - synced.angle_deg[10]) < 1e-9);

    options.sync = "Twice";
    const CrankAngle twice = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK(twice.once_per_turn);
    bool said = false;
    for (const Notice& notice : twice.notices) said = said || notice.code == "sync-not-once-a-cycle";
    CHECK(said);

    options.sync.reset();
    const CrankAngle bare = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    options.wheel_lead_deg = 84;
    const CrankAngle led = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK(bare.offset_sd_deg == 180);
    CHECK(has_notice(bare.notices, "half-cycle"));
    CHECK(led.offset_sd_deg == 0);
    CHECK(std::abs(bare.angle_deg[10] - led.angle_deg[10] - 84) < 1e-9);

    // The wheel itself named as sync settles nothing, but says which channel and lead are meant.
    Trace named = trace;
    named.channel = "Crank";
    recording.channels.push_back(
        {.name = "Crank", .unit = "", .values = {}, .gaps = {}, .clipped = {}, .edges = trace.edges});
    options.sync = "Crank";
    const CrankAngle itself = angle::reference_by_wheel(recording, named, cranking, layout, options);
    CHECK(itself.once_per_turn);
    CHECK(itself.angle_deg == led.angle_deg);
    CHECK(std::none_of(itself.notices.begin(), itself.notices.end(),
                       [](const Notice& n) { return n.code == "sync-not-once-a-cycle"; }));
}

TEST_CASE(
    "wheel: twenty minutes of cranking -> no more turns are used than time and memory allow, and it says "
    "so" *
    test::once) {
    const WheelPattern pattern = parse_wheel("60-2");
    const Trace trace = trace_of(edges_of(pattern, Law{}, 4000));
    const Cranking cranking = cranking::locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    for (const bool told : {true, false}) {
        ReferenceOptions options;
        if (told) options.wheel = pattern;
        const CrankAngle angle = angle::reference_by_wheel({}, trace, cranking, layout, options);
        REQUIRE_FALSE(angle.no_reference);
        CHECK(angle.angle_deg.back() - angle.angle_deg.front() == doctest::Approx(120 * 360).epsilon(0.01));
        CHECK(angle.cycles >= 58);
        const auto said = std::any_of(angle.notices.begin(), angle.notices.end(),
                                      [](const Notice& n) { return n.code == "long-cranking"; });
        CHECK(said);
    }
}

TEST_CASE("wheel: a long run-up before a long cranking -> the part that is used holds the settled part") {
    const WheelPattern pattern = parse_wheel("36-1");
    const Trace trace = trace_of(edges_of(pattern, Law{}, 1000));
    Cranking cranking = cranking::locate_wheel(trace);
    for (const double settled_s : {100.0, 290.0}) {
        cranking.settled_s = settled_s;
        ReferenceOptions options;
        options.wheel = pattern;
        const CrankAngle angle =
            angle::reference_by_wheel({}, trace, cranking, make_layout(4, {}, {}, {}), options);
        REQUIRE_FALSE(angle.no_reference);
        CHECK(angle.time_s.front() < settled_s);
        CHECK(angle.time_s.back() > settled_s);
        CHECK(angle.angle_deg.back() - angle.angle_deg.front() == doctest::Approx(120 * 360).epsilon(0.01));
    }
}

TEST_CASE("wheel: fewer than two whole cycles -> a speed without an interval, never one of no width") {
    SynthOptions options;
    options.engine.layout = make_layout(4, {}, {}, {});
    options.chain.wheel = WheelKind::edges;
    options.chain.pattern = parse_wheel("60-2");
    const Recording recording = synthesise(options, 3).recording;
    AnalyseOptions asked;
    asked.layout = options.engine.layout;
    asked.trace.quantity = Quantity::wheel;
    asked.reference.wheel = options.chain.pattern;
    asked.cranking.from_s = 2.0;
    asked.cranking.to_s = 2.7;  // a cycle takes about 0.6 s
    const Analysis brief = analyse(recording, asked);
    CHECK(brief.angle.speed_rpm > 0);
    CHECK_FALSE(brief.contribution.speed_rpm);
    asked.cranking = {};
    const Analysis whole = analyse(recording, asked);
    REQUIRE(whole.contribution.speed_rpm);
    CHECK(whole.contribution.speed_rpm->low < whole.contribution.speed_rpm->value);
    // Whole cycles scatter by a percent or so, turns of a four by chance alone too.
    CHECK(whole.contribution.speed_rpm->high - whole.contribution.speed_rpm->low <
          0.05 * whole.contribution.speed_rpm->value);
}

TEST_CASE("wheel: a lead from the gap of a wheel that has none -> refused, not counted from any tooth") {
    for (const char* text : {"24-0", "12-0", "20,40"}) {
        CAPTURE(std::string(text));
        const WheelPattern pattern = parse_wheel(text);
        const Trace trace = trace_of(edges_of(pattern, Law{}, 20));
        ReferenceOptions options;
        options.wheel = pattern;
        options.wheel_lead_deg = 120;
        const auto refer = [&] {
            (void)angle::reference_by_wheel({}, trace, cranking::locate_wheel(trace),
                                            make_layout(4, {}, {}, {}), options);
        };
        CHECK_THROWS_WITH_AS(refer(), doctest::Contains("no tooth of its own"), Error);
        options.wheel_lead_deg.reset();
        CHECK_NOTHROW(refer());
    }
}

TEST_CASE("wheel: edges that bounce or keep their level -> known before they are cleaned") {
    const std::vector<Edge> clean = {{0, true}, {0.01, false}, {0.02, true}};
    CHECK_FALSE(signal::bounces(clean));
    CHECK_FALSE(signal::bounces({}));
    CHECK(signal::bounces(std::vector<Edge>{{0, true}, {0.00002, false}, {0.02, true}}));
    CHECK(signal::bounces(std::vector<Edge>{{0, true}, {0.01, true}}));
}

TEST_CASE("wheel: narrow teeth of two levels -> all of them, none taken for a wrapped converter") {
    constexpr double rate = 20'000;
    constexpr int period = 100;  // samples; 5 ms a tooth
    std::mt19937 random(1);
    for (const double noise_v : {0.0, 0.3})
        for (const int wide : {12, 20, 30, 80}) {  // 0.6 to 4 ms; wraps last up to 1.5 ms
            CAPTURE(noise_v);
            CAPTURE(wide);
            std::normal_distribution<double> noise(0, noise_v + 1e-9);
            std::vector<float> values(20'000, 0.0F);  // at rest first
            for (int i = 0; i < 100 * period; ++i) values.push_back(i % period < wide ? 5.0F : 0.0F);
            for (float& v : values) v += static_cast<float>(noise(random));
            const auto edges = signal::find_edges(values, rate, 0);
            CHECK(edges.size() == 200);
        }
}

namespace {

/// Level changes of a sensor whose level at an angle is `level`, while the crank turns as `angle_deg` says:
/// also backwards. Steps of 20 microseconds: 0.03 degrees at 21 rad/s.
template <typename Level, typename Motion>
std::vector<Edge> edges_of_motion(Level level, Motion angle_deg, double seconds) {
    std::vector<Edge> edges;
    bool before = level(angle_deg(0.0));
    constexpr double step_s = 2e-5;
    for (int i = 1; i * step_s < seconds; ++i) {
        const bool now = level(angle_deg(i * step_s));
        if (now != before) edges.push_back({i * step_s, now});
        before = now;
    }
    return edges;
}

bool on_tooth_of_60_2(double angle_deg) {
    const double place = angle_deg - 360 * std::floor(angle_deg / 360);
    return place < 58 * 6 && std::fmod(place, 6.0) < 3;
}

constexpr double key_off_s = 3.0;

/// 125 rpm with the ripple of a four until the key is released, then a stop in 0.13 s before the next TDC,
/// and 45 degrees back in a quarter of a second.
double kicked_back_deg(double time_s) {
    const double speed = 750;  // degrees a second
    const auto cranked = [speed](double t) { return speed * t + 12 * std::cos(speed * t * pi / 90); };
    const double since = time_s - key_off_s;
    if (since <= 0) return cranked(time_s);
    constexpr double stopped_s = 0.13;
    const double slope = (cranked(key_off_s) - cranked(key_off_s - 1e-6)) / 1e-6;
    const double stop = cranked(key_off_s) + slope * stopped_s / 2;
    if (since < stopped_s) return stop - slope * stopped_s / 2 * std::pow(1 - since / stopped_s, 2);
    return stop - 22.5 * (1 - std::cos(pi * std::min(1.0, (since - stopped_s) / 0.25)));
}

}  // namespace

TEST_CASE("wheel: the crank stops and rocks back before the recording ends -> released, before the stop") {
    Trace trace = trace_of(edges_of_motion(on_tooth_of_60_2, kicked_back_deg, 4.5));
    CHECK(trace.edges.back().time_s > key_off_s + 0.25);  // it did rock
    for (const bool known : {false, true}) {
        if (known) trace.end_s = 4.5;
        const Cranking cranking = cranking::locate_wheel(trace);
        CHECK(cranking.ended_by == CrankingEnd::release);
        CHECK(cranking.end_s <= key_off_s + 0.02);  // the last slow phase before it: 0.24 s a compression
        CHECK(cranking.end_s > key_off_s - 0.24);
    }
}

TEST_CASE("wheel: a recording that stops while cranking, or goes on after it -> ended by what it shows") {
    const auto cranked = [](double t) { return 750 * t + 12 * std::cos(750 * t * pi / 90); };
    Trace trace = trace_of(edges_of_motion(on_tooth_of_60_2, cranked, 3.0));
    const double last_s = trace.edges.back().time_s;
    trace.end_s = last_s + 0.01;
    CHECK(cranking::locate_wheel(trace).ended_by == CrankingEnd::recording_end);
    CHECK(cranking::locate_wheel(trace).end_s > last_s - 0.01);
    trace.end_s = last_s + 1;
    CHECK(cranking::locate_wheel(trace).ended_by == CrankingEnd::release);
    LocateOptions options;
    options.to_s = last_s + 0.01;
    CHECK(cranking::locate_wheel(trace, options).ended_by == CrankingEnd::recording_end);
}

TEST_CASE("wheel: a cam edge crossed again as the crank rocks back, or one pulse too many -> zero stays") {
    const Law law{21, 0.2, 2};
    const WheelPattern pattern = parse_wheel("60-2");
    const Trace trace = trace_of(edges_of(pattern, law, 14));
    const Cranking cranking = cranking::locate_wheel(trace);
    const EngineLayout layout = make_layout(4, {}, {}, {});
    Channel cam{.name = "Cam", .unit = "", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    for (int cycle = 0; cycle < 6; ++cycle) {
        cam.edges.push_back({law.time_s(500 + 720.0 * cycle), true});
        cam.edges.push_back({law.time_s(680 + 720.0 * cycle), false});
    }
    ReferenceOptions options;
    options.wheel = pattern;
    options.sync = "Cam";
    options.sync_lead_deg = 100;
    Recording recording;
    recording.channels = {cam};
    const CrankAngle clean = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    REQUIRE_FALSE(clean.once_per_turn);
    for (const double again_deg : {300.0, 4 * 720.0 + 300}) {  // 160 degrees before the edges
        CAPTURE(again_deg);
        std::vector<Edge>& edges = recording.channels[0].edges;
        edges = cam.edges;
        edges.push_back({law.time_s(again_deg), true});
        edges.push_back({law.time_s(again_deg + 3), false});
        std::sort(edges.begin(), edges.end(), [](Edge a, Edge b) { return a.time_s < b.time_s; });
        const CrankAngle angle = angle::reference_by_wheel(recording, trace, cranking, layout, options);
        CHECK_FALSE(angle.once_per_turn);
        // The median of the places moves by what interpolation between teeth is wrong: under 0.1 degree.
        CHECK(std::abs(angle.angle_deg[10] - clean.angle_deg[10]) < 0.1);
    }
}

TEST_CASE(
    "wheel: leading edges that disagree -> with a lead no zero, without one the others, and it is said") {
    const Law law{21, 0.2, 2};
    const WheelPattern pattern = parse_wheel("60-2");
    const Trace trace = trace_of(edges_of(pattern, law, 14));
    const Cranking cranking = cranking::locate_wheel(trace);
    Channel cam{.name = "Cam", .unit = "", .values = {}, .gaps = {}, .clipped = {}, .edges = {}};
    for (int cycle = 0; cycle < 6; ++cycle) {
        cam.edges.push_back({law.time_s(500 + 720.0 * cycle + 25 * (cycle % 3)), true});
        cam.edges.push_back({law.time_s(560 + 720.0 * cycle), false});
    }
    Recording recording;
    recording.channels = {cam};
    ReferenceOptions options;
    options.wheel = pattern;
    options.sync = "Cam";
    const auto said = [](const CrankAngle& angle, const std::string& code) {
        return std::any_of(angle.notices.begin(), angle.notices.end(),
                           [&](const Notice& n) { return n.code == code; });
    };
    const EngineLayout layout = make_layout(4, {}, {}, {});
    const CrankAngle found = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK_FALSE(found.once_per_turn);
    CHECK(said(found, "wide-mark"));
    options.sync_lead_deg = 100;
    const CrankAngle led = angle::reference_by_wheel(recording, trace, cranking, layout, options);
    CHECK(led.once_per_turn);
    CHECK(said(led, "sync-not-once-a-cycle"));
}

TEST_CASE("wheel: slower than any starter -> no angle, and the unit of time that would explain it") {
    const WheelPattern pattern = parse_wheel("60-2");
    ReferenceOptions options;
    options.wheel = pattern;
    const EngineLayout layout = make_layout(4, {}, {}, {});
    const std::pair<double, const char*> cases[] = {{1e-3, "Time (ms)"}, {1e-6, "Time (us)"}, {1, ""}};
    for (const auto& row : cases) {
        const std::string title = row.second;
        CAPTURE(title);
        const Trace trace = trace_of(edges_of(pattern, Law{16 * row.first, 0.2, 2}, 8));
        const Cranking cranking = cranking::locate_wheel(trace);
        const CrankAngle angle = angle::reference_by_wheel({}, trace, cranking, layout, options);
        CHECK(angle.no_reference.has_value() == !title.empty());
        if (angle.no_reference) CHECK(angle.no_reference->find(title) != std::string::npos);
        if (angle.no_reference) CHECK(contribution::estimate_wheel(cranking, angle, layout).inconclusive);
    }
}

TEST_CASE("wheel: the noise of a standing sensor -> no teeth, and every tooth once the crank turns") {
    constexpr double rate = 20'000;
    std::mt19937 random(1);
    for (const double noise : {0.002, 0.02, 0.05}) {
        CAPTURE(noise);
        std::normal_distribution<double> hiss(0, noise);
        std::vector<float> values;
        for (int i = 0; i < 100'000; ++i) {
            const double t = i / rate - 3;  // three seconds of rest
            const double tooth = t < 0 ? 0 : -std::sin(2 * pi * 100 * t);
            values.push_back(static_cast<float>(tooth + hiss(random)));
        }
        values[1000] = 100;  // one sample of interference, which is no measure of the swing
        const auto edges = signal::find_edges(values, rate, -3);
        CHECK(edges.front().time_s > -0.002);
        CHECK(std::abs(static_cast<double>(edges.size()) - 400) <= 2);  // the first has nothing to come from
    }
}

TEST_CASE("wheel: quiet teeth before loud ones -> they are teeth, not noise") {
    constexpr double rate = 20'000;
    std::mt19937 random(1);
    std::normal_distribution<double> hiss(0, 0.002);
    std::vector<float> values;
    for (int i = 0; i < 40'000; ++i) {
        const double t = i / rate;
        const double tooth = t < 1 ? 0.1 * std::sin(2 * pi * 100 * t) : std::sin(2 * pi * 1000 * t);
        values.push_back(static_cast<float>(tooth + hiss(random)));
    }
    const auto edges = signal::find_edges(values, rate, 0);
    const auto loud = std::find_if(edges.begin(), edges.end(), [](Edge e) { return e.time_s > 0.9; });
    CHECK(std::abs(static_cast<double>(loud - edges.begin()) - 180) <= 2);
}

TEST_CASE("wheel: teeth missed on a wheel without a mark of its own -> repaired, no angle moves") {
    const Law law{21, 0.2, 2};
    for (const char* text : {"24-0", "135-0", "36-2-2-2"}) {
        CAPTURE(text);
        const WheelPattern pattern = parse_wheel(text);
        const auto whole = edges_of(pattern, law, 9);
        std::vector<Edge> edges;
        int missed = 0;
        for (std::size_t i = 0; i < whole.size(); ++i) {
            const bool lost = i / 2 % 61 == 20;
            missed += lost && whole[i].rising ? 1 : 0;
            if (!lost) edges.push_back(whole[i]);
        }
        const auto teeth = align_teeth(edges, pattern);
        REQUIRE(teeth);
        CHECK(teeth->missed == missed);
        CHECK(teeth->extra == 0);
        CHECK(worst_angle_error_deg(*teeth, law) < exact_deg);
    }
}

TEST_CASE("wheel: slow, strongly pulsing cranking -> settled early, no engine start, the mean speed") {
    const WheelPattern pattern = parse_wheel("60-2");
    // 1.0: one compression a turn, as of a four with a dead cylinder in each pair; 0.5: one a cycle.
    for (const double order : {1.0, 0.5})
        for (const double rpm : {55.0, 75.0, 100.0}) {
            CAPTURE(order);
            CAPTURE(rpm);
            const Trace trace = trace_of(edges_of(pattern, Law{rpm * pi / 30, 0.7, order}, 10));
            LocateOptions options;
            options.teeth_per_turn = static_cast<int>(pattern.pitch_deg.size());
            const Cranking cranking = cranking::locate_wheel(trace, options);
            CHECK(cranking.ended_by == CrankingEnd::recording_end);
            CHECK(cranking.settled_s - cranking.start_s < 1.1 * 60 / rpm);  // half of the cycle that it takes
            CHECK(cranking.end_s - cranking.settled_s > 7 * 60 / rpm);
            CHECK(cranking.notices.empty());
        }
}

TEST_CASE(
    "wheel: a crank that surges after each compression, pattern not told -> no start but the true one") {
    for (const char* text : {"60-2", "36-1"})
        for (const double order : {0.5, 1.0})
            for (const double rpm : {50.0, 60.0, 75.0}) {
                CAPTURE(std::string(text));
                CAPTURE(order);
                CAPTURE(rpm);
                // Nineteen times slower at TDC than between: 3 rad/s and 52 at 60 rpm.
                auto edges = edges_of(parse_wheel(text), Law{rpm * pi / 30, 0.9, order}, 12);
                CHECK(cranking::locate_wheel(trace_of(edges)).ended_by == CrankingEnd::recording_end);
                const double fires_s = edges.back().time_s;
                const auto runs = edges_of(parse_wheel(text), Law{800 * pi / 30, 0, 2}, 20);
                for (const Edge& edge : runs)
                    edges.push_back({fires_s + 0.01 + edge.time_s - runs.front().time_s, edge.rising});
                const Cranking starts = cranking::locate_wheel(trace_of(std::move(edges)));
                CHECK(starts.ended_by == CrankingEnd::engine_start);
                CHECK(starts.end_s < fires_s + 0.05);
                CHECK(starts.end_s > fires_s - 2 * 60 / rpm);  // within the last cycle
            }
}

TEST_CASE("wheel: two bursts with a short rest between -> two, and the speed of the longer one") {
    for (const char* text : {"60-2", "36-1", "36-2"})
        for (const double rest_s : {0.15, 0.19, 0.3}) {
            CAPTURE(std::string(text));
            CAPTURE(rest_s);
            const WheelPattern pattern = parse_wheel(text);
            std::vector<Edge> edges = edges_of(pattern, Law{200 * pi / 30, 0.3, 2}, 5);
            const double stop_s = edges.back().time_s;
            const auto second = edges_of(pattern, Law{265 * pi / 30, 0.2, 2}, 14);
            const double shift_s = stop_s + rest_s - second.front().time_s;
            for (const Edge& edge : second) edges.push_back({edge.time_s + shift_s, edge.rising});
            LocateOptions options;
            options.teeth_per_turn = static_cast<int>(pattern.pitch_deg.size());
            const Cranking cranking = cranking::locate_wheel(trace_of(std::move(edges)), options);
            REQUIRE(cranking.others.size() == 1);
            CHECK(cranking.others[0].end_s <= stop_s);
            // The first edge of a kind comes within a tooth's width, 1.5 degrees.
            CHECK(std::abs(cranking.start_s - stop_s - rest_s) < 0.002);
            CHECK(cranking.ended_by == CrankingEnd::recording_end);
        }
}

TEST_CASE("wheel: a crank that all but stops at every compression or in its gap -> one burst") {
    const auto bursts = [](const std::vector<Edge>& edges) {
        return cranking::bursts_of(cranking::teeth_of(trace_of(edges), {})).size();
    };
    // One tooth of 29 takes eighteen times as long, twice a turn: 160 ms.
    std::vector<Edge> stalls;
    double at_s = 0;
    for (int tooth = 0; tooth < 29 * 20; ++tooth) {
        stalls.push_back({at_s, true});
        stalls.push_back({at_s + 0.002, false});
        at_s += tooth % 29 == 14 ? 0.16 : 0.0087;
    }
    CHECK(bursts(stalls) == 1);
    // 0.9: the crank is nineteen times slower at TDC than between; one compression a cycle, or four.
    for (const char* text : {"60-2", "36-2-2-2", "12-1", "10,50,60,60,60,60,60"})
        for (const double order : {0.5, 1.0, 2.0}) {
            CAPTURE(std::string(text));
            CAPTURE(order);
            const auto edges = edges_of(parse_wheel(text), Law{60 * pi / 30, 0.9, order}, 10);
            CHECK(bursts(edges) == 1);
        }
    // So it does before an engine runs for long: its teeth, forty times as quick, are not what is usual then.
    std::vector<Edge> starts = edges_of(parse_wheel("12-1"), Law{70 * pi / 30, 0.9, 2}, 10);
    const double fires_s = starts.back().time_s;
    const auto runs = edges_of(parse_wheel("12-1"), Law{2800 * pi / 30, 0, 2}, 800);
    for (const Edge& edge : runs)
        starts.push_back({fires_s + 0.1 + edge.time_s - runs.front().time_s, edge.rising});
    CHECK(bursts(starts) == 1);
}

TEST_CASE(
    "wheel: speed that trebles -> an engine start if it lasts, or if the pattern is told, and else no end") {
    const auto law = [](double lasts_s) {
        return [lasts_s](double t) {
            const double fast = std::clamp(t - 3, 0.0, lasts_s);
            return 750 * t + 12 * std::cos(750 * t * pi / 90) + 1500 * fast;
        };
    };
    const Trace brief = trace_of(edges_of_motion(on_tooth_of_60_2, law(0.1), 5));
    CHECK(cranking::locate_wheel(brief).ended_by == CrankingEnd::recording_end);
    const Trace dies = trace_of(edges_of_motion(on_tooth_of_60_2, law(0.13), 5));
    const Trace lasting = trace_of(edges_of_motion(on_tooth_of_60_2, law(2), 5));
    LocateOptions options;
    for (const bool told : {false, true}) {
        if (told) options.teeth_per_turn = 58;
        // Whole cycles hold no ripple that could look like it: there even an engine that dies at once shows.
        if (told) CHECK(cranking::locate_wheel(dies, options).ended_by == CrankingEnd::engine_start);
        const Cranking cranking = cranking::locate_wheel(lasting, options);
        CHECK(cranking.ended_by == CrankingEnd::engine_start);
        CHECK(cranking.end_s <= 3.01);
        CHECK(cranking.end_s > 2.7);  // a compression takes 0.24 s
    }
}

TEST_CASE(
    "wheel: a strongly pulsing crank, the pattern not told -> known by a gap that never needs a repair") {
    for (const char* text : {"60-2", "36-1", "36-2", "30-2"}) {
        CAPTURE(std::string(text));
        // Each tooth's time is off by up to 5 %: as rough as a light crank at low speed.
        auto edges = edges_of(parse_wheel(text), Law{12, 0.35, 2}, 8);
        std::mt19937 random(1);
        std::uniform_real_distribution<double> off(-0.05, 0.05);
        for (std::size_t i = 1; i + 2 < edges.size(); i += 2) {
            const double pitch_s = parse_wheel(text).pitch_deg[0] * pi / 180 / 12;
            const double move = off(random) * pitch_s;
            edges[i - 1].time_s += move;
            edges[i].time_s += move;
        }
        const auto found = recognise_wheel(edges, 4);
        REQUIRE(found);
        CHECK(found->text == text);
    }
}

TEST_CASE(
    "wheel: a start of the engine, on a time axis four times too slow -> nothing settles after its end") {
    SynthOptions options;
    options.engine.layout = make_layout(4, {}, {}, {});
    options.run.duration_s = 5;
    options.run.ends_by = CrankingEnd::engine_start;
    options.chain.current = options.chain.battery = false;
    options.chain.sync = SyncKind::none;
    options.chain.wheel = WheelKind::edges;
    options.chain.pattern = parse_wheel("60-2");
    for (const double stop_s : {3.2, 3.8}) {
        CAPTURE(stop_s);
        options.run.stop_s = stop_s;
        Recording recording = synthesise(options, 1).recording;
        constexpr double times = 4;
        for (Channel& channel : recording.channels)
            for (Edge& edge : channel.edges) edge.time_s *= times;
        recording.duration_s *= times;
        const Cranking cranking = locate(pick(recording, {.quantity = Quantity::wheel}));
        REQUIRE_FALSE(cranking.no_cranking);
        CHECK(cranking.ended_by == CrankingEnd::engine_start);
        CHECK(cranking.settled_s <= cranking.end_s);
    }
}
