#include "clipping.hpp"

#include <algorithm>

#include "trace/clean.hpp"

namespace evenstroke::pressure {

namespace {

/// A top that the range cuts off for less than this loses a ten-thousandth of its height (1 ms is 1.2 degrees
/// at 200 rpm), and noise draws as long a run of equal readings with a coarse converter.
constexpr double shortest_flat_s = 1e-3;
constexpr std::size_t shortest_flat = 3;
/// A reading that stands still for so long, and so many times longer than anywhere before: a coarse
/// converter's level between strokes stands still too.
constexpr double shortest_stuck_s = 1;
constexpr std::size_t stuck_times = 5;

/// A floor is held for this share of the recording: about three degrees of every cycle. Fewer different
/// readings are a coarse converter's (8 bits have 256), which stand still between strokes.
constexpr double least_floor_share = 0.004;
constexpr std::size_t fewest_readings = 300;

bool flat(const Span& run, double rate_hz) {
    const std::size_t length = run.last - run.first;
    return length >= shortest_flat && static_cast<double>(length) >= shortest_flat_s * rate_hz;
}

}  // namespace

void bridge_lone(Pressure& p, std::vector<Span>& over_range) {
    std::erase_if(over_range, [&p](const Span& run) {
        if (flat(run, p.rate_hz)) return false;
        const float left = p.kpa[run.first > 0 ? run.first - 1 : std::min(run.last, p.kpa.size() - 1)];
        const float right = run.last < p.kpa.size() ? p.kpa[run.last] : left;
        const auto width = static_cast<float>(run.last - run.first + 1);
        for (std::size_t i = run.first; i < run.last; ++i)
            p.kpa[i] = left + (right - left) * static_cast<float>(i - run.first + 1) / width;
        p.bridged.push_back(run);
        return true;
    });
    std::sort(p.bridged.begin(), p.bridged.end(),
              [](const Span& a, const Span& b) { return a.first < b.first; });
}

bool flat_tops(std::span<const float> kpa, double rate_hz) {
    const std::vector<Span> runs = trace::find_clipping(kpa, true, false);
    return std::any_of(runs.begin(), runs.end(), [&](const Span& run) { return flat(run, rate_hz); });
}

std::optional<double> stuck_from_s(const Pressure& p) {
    std::size_t run = 0, longest_before = 0;
    for (std::size_t i = 1; i < p.kpa.size(); ++i) {
        if (p.kpa[i] == p.kpa[i - 1]) {
            ++run;
            continue;
        }
        longest_before = std::max(longest_before, run);
        run = 0;
    }
    if (static_cast<double>(run) < shortest_stuck_s * p.rate_hz || run < stuck_times * longest_before)
        return std::nullopt;
    return p.time_s(p.kpa.size() - 1 - run);
}

std::optional<float> held_floor(std::span<const float> kpa, double rate_hz) {
    const auto low = std::min_element(kpa.begin(), kpa.end());
    std::size_t held = 0, run = 0;
    for (const float v : kpa) {
        run = v == *low ? run + 1 : 0;
        if (flat({0, run}, rate_hz)) held += flat({0, run - 1}, rate_hz) ? 1 : run;
    }
    if (static_cast<double>(held) < least_floor_share * static_cast<double>(kpa.size())) return std::nullopt;
    std::vector<float> different(kpa.begin(), kpa.end());
    std::sort(different.begin(), different.end());
    if (std::unique(different.begin(), different.end()) - different.begin() <
        static_cast<std::ptrdiff_t>(fewest_readings))
        return std::nullopt;
    return *low;
}

}  // namespace evenstroke::pressure
