#include "other_intervals.hpp"

#include <fmt/core.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace evenstroke::contribution {

namespace {

using Intervals = std::vector<double>;

/// The other layout must be so much likelier: where a cylinder is dead, they become more alike.
constexpr double better_cost = 12;
constexpr double same_deg = 1;

/// Twins: both pistons together, cranks of 180 and 270 degrees, V of 90 and 45 degrees on one pin. Threes:
/// cranks of 120, of 180 and of 90 degrees (trade facts, from memory). From every cylinder on.
std::vector<Intervals> usual_intervals(int cylinders) {
    if (cylinders == 2)
        return {{360, 360}, {180, 540}, {270, 450}, {315, 405}, {405, 315}, {450, 270}, {540, 180}};
    if (cylinders == 3)
        return {{240, 240, 240}, {180, 180, 360}, {180, 360, 180}, {360, 180, 180},
                {180, 270, 270}, {270, 180, 270}, {270, 270, 180}};
    return {};
}

bool alike(const Intervals& one, const Intervals& other) {
    return std::equal(one.begin(), one.end(), other.begin(),
                      [](double a, double b) { return std::abs(a - b) < same_deg; });
}

/// Begun at any cylinder.
bool alike_turned(Intervals one, const Intervals& other) {
    for (std::size_t k = 0; k < one.size(); ++k) {
        if (alike(one, other)) return true;
        std::rotate(one.begin(), one.begin() + 1, one.end());
    }
    return false;
}

}  // namespace

std::optional<EngineLayout> likelier_intervals(
    const EngineLayout& layout, bool first_known, double found_cost,
    const std::function<std::optional<double>(const EngineLayout&)>& cost_of) {
    std::vector<Intervals> tried{layout.intervals_deg};
    std::optional<EngineLayout> best;
    double best_cost = found_cost - better_cost;
    for (const Intervals& usual : usual_intervals(layout.cylinders())) {
        if (std::any_of(tried.begin(), tried.end(), [&](const Intervals& before) {
                return first_known ? alike(usual, before) : alike_turned(usual, before);
            }))
            continue;
        tried.push_back(usual);
        EngineLayout other = layout;
        other.intervals_deg = usual;
        const auto cost = cost_of(other);
        if (!cost || !(*cost < best_cost)) continue;
        best_cost = *cost;
        best = std::move(other);
    }
    return best;
}

Notice other_intervals_notice(const EngineLayout& taken, const EngineLayout& likelier) {
    return {
        "other-intervals",
        fmt::format("With firing intervals of {:g} degrees this trace would be easier to explain than with "
                    "the {:g} that were taken, so no cylinder is condemned: check them, and give --intervals "
                    "{:g}",
                    fmt::join(likelier.intervals_deg, ", "), fmt::join(taken.intervals_deg, ", "),
                    fmt::join(likelier.intervals_deg, ","))};
}

}  // namespace evenstroke::contribution
