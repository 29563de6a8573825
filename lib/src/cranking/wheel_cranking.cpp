#include "wheel_cranking.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

#include "wheel_bursts.hpp"
#include "wheel_end.hpp"
#include "wheel_settle.hpp"

namespace evenstroke::cranking {

Cranking locate_wheel(const Trace& trace, const LocateOptions& options) {
    Cranking cranking;
    const ToothTimes times = teeth_of(trace, options);
    if (times.size() < least_teeth) {
        cranking.no_cranking =
            options.from_s || options.to_s
                ? fmt::format("between --from and --to \"{}\" shows {} teeth: choose a longer part",
                              trace.channel, times.size())
                : fmt::format("\"{}\" shows {} teeth: the wheel hardly turns", trace.channel, times.size());
        return cranking;
    }
    const std::vector<ToothTimes> bursts = bursts_of(times);
    const auto length = [](const ToothTimes& burst) {
        return burst.size() < 2 ? 0.0 : burst.back() - burst[0];
    };
    const auto longest = std::max_element(
        bursts.begin(), bursts.end(), [&](const auto& a, const auto& b) { return length(a) < length(b); });
    for (auto burst = bursts.begin(); burst != bursts.end(); ++burst)
        if (burst != longest && burst->size() >= least_teeth)
            cranking.others.push_back({burst->front(), burst->back()});
    if (longest->size() < least_teeth) {
        cranking.no_cranking =
            fmt::format("\"{}\" never shows {} teeth in a row", trace.channel, least_teeth);
        return cranking;
    }
    cranking.start_s = longest->front();
    cranking.end_s = longest->back();
    const ToothRates rates = rates_of(*longest, options);
    const auto level = first_level(*longest, rates);
    if (!level) {
        cranking.settled_s = cranking.start_s;
        cranking.notices.push_back(
            {"never-settled",
             "The wheel's speed never settles while cranking; figures are means over a "
             "changing speed. Crank for some seconds with fuel and ignition disabled."});
        return cranking;
    }
    // The rate at a tooth is that of the window before it.
    cranking.settled_s =
        std::max(cranking.start_s, (*longest)[level->tooth] - rates.window_s[level->tooth] / 2);
    const double last_s = longest->back();
    const double seen_s = std::min(trace.end_s.value_or(last_s),
                                   options.to_s.value_or(std::numeric_limits<double>::infinity()));
    const bool stops = std::next(longest) != bursts.end() || seen_s > last_s + least_pause_s;
    const UsableEnd end = end_of_wheel(*longest, rates, *level, stops);
    cranking.end_s = end.end_s;
    cranking.ended_by = end.ended_by;
    // Whole slow turns may show that the engine ran before a short window found the rate steady.
    cranking.settled_s = std::min(cranking.settled_s, cranking.end_s);
    return cranking;
}

}  // namespace evenstroke::cranking
