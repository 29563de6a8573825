// A crank result with figures put in by hand, for tests of what is written of it.
#pragma once

#include <algorithm>
#include <limits>
#include <optional>
#include <vector>

#include "evenstroke/analyse.hpp"

namespace evenstroke::test {

inline constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
inline constexpr double infinity = std::numeric_limits<double>::infinity();

struct Made {
    Recording recording;
    Analysis analysis;
};

/// A four with figures put in by hand: what is shown must be these and nothing else.
inline Made made() {
    Made m;
    m.recording = {.path = "yard.csv", .rate_hz = 1000, .recorded_rate_hz = 1000, .duration_s = 5};
    Analysis& a = m.analysis;
    a.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    a.trace.channel = "Clamp";
    a.trace.quantity = Quantity::current;
    a.trace.unit = "A";
    a.trace.rate_hz = 1000;
    a.trace.values = {0, 1.5F, 2};
    a.cranking.start_s = 0.5;
    a.cranking.settled_s = 1;
    a.cranking.end_s = 4.5;
    a.cranking.inrush_a = 612.34;
    a.cranking.mean_a = 150;
    a.angle.kind = ReferenceKind::sync;
    a.angle.channel = "Cam";
    a.angle.time_s = {0, 1.2};
    a.angle.angle_deg = {0, 720};
    a.angle.speed_rpm = 200;
    a.angle.cycles = 6;
    for (const double pct : {100.0, 40.04, 97.0, 99.0})
        a.contribution.cylinders.push_back({.contribution_pct = pct,
                                            .low_pct = std::max(0.0, pct - 3),
                                            .high_pct = std::min(100.0, pct + 3),
                                            .simple_pct = pct,
                                            .events = 6});
    a.contribution.events = {
        {.cycle = 0, .position = 1, .tdc_s = 1.5, .peak_s = 1.4, .peak = 200, .trough = 120}};
    a.contribution.by_cycle_pct.assign(2, std::vector<std::optional<double>>(4, 50.0));
    a.contribution.by_cycle_pct[1][2].reset();
    a.findings = judge(a.trace, a.cranking, a.angle, a.contribution, a.layout);
    return m;
}

}  // namespace evenstroke::test
