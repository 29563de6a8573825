#include "evenstroke/engine.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "evenstroke/error.hpp"

namespace evenstroke {

namespace {

/// How far the intervals' sum may be from 720: room for intervals written with one decimal.
constexpr double interval_sum_tolerance_deg = 0.5;

/// Intervals of an even engine differ by less than this: 720/7 written as 103 leaves 102 for the last.
constexpr double even_tolerance_deg = 1.5;

[[noreturn]] void refuse(const std::string& place, const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::bad_engine, place, problem, remedy);
}

/// "1342" is one number, and no engine has that many cylinders.
void check_parted(const std::vector<int>& order) {
    if (order.size() == 1 && order.front() > max_cylinders)
        refuse("--order", fmt::format("{} is one number, not an order", order.front()),
               "separate the cylinder numbers with hyphens, as in 1-3-4-2");
}

void check_order(const std::vector<int>& order) {
    const int cylinders = static_cast<int>(order.size());
    std::vector<bool> seen(order.size(), false);
    for (const int name : order) {
        if (name < 1 || name > cylinders)
            refuse("--order", fmt::format("cylinder {} is not between 1 and {}", name, cylinders),
                   fmt::format("name each of the {} cylinders once, as in 1-3-4-2", cylinders));
        if (seen[static_cast<std::size_t>(name - 1)])
            refuse("--order", fmt::format("cylinder {} appears twice", name),
                   "name each cylinder once, as in 1-3-4-2");
        seen[static_cast<std::size_t>(name - 1)] = true;
    }
}

}  // namespace

std::vector<double> EngineLayout::firing_tdc_deg() const {
    std::vector<double> tdc_deg(intervals_deg.size(), 0.0);
    for (std::size_t i = 1; i < tdc_deg.size(); ++i) tdc_deg[i] = tdc_deg[i - 1] + intervals_deg[i - 1];
    return tdc_deg;
}

bool EngineLayout::fires_evenly() const {
    if (intervals_deg.empty()) return true;
    const auto [least, most] = std::minmax_element(intervals_deg.begin(), intervals_deg.end());
    return *most - *least < even_tolerance_deg;
}

int EngineLayout::repeats_after() const {
    if (intervals_deg.empty()) return 0;
    if (fires_evenly()) return 1;
    const std::size_t count = intervals_deg.size();
    for (std::size_t step = 1; step < count; ++step) {
        if (count % step != 0) continue;
        bool alike = true;
        for (std::size_t i = 0; i < count; ++i)
            alike =
                alike && std::abs(intervals_deg[i] - intervals_deg[(i + step) % count]) < even_tolerance_deg;
        if (alike) return static_cast<int>(step);
    }
    return cylinders();
}

EngineLayout make_layout(std::optional<int> cylinders, const std::vector<int>& order,
                         const std::vector<double>& intervals_deg, std::optional<int> first) {
    const auto agree = [&cylinders](std::size_t count, const char* option) {
        const int said = static_cast<int>(count);
        if (cylinders && *cylinders != said)
            refuse(option, fmt::format("it has {} cylinders, but {} were given", said, *cylinders),
                   "make --cylinders, --order and --intervals agree; --order alone is enough for an even "
                   "engine");
        cylinders = said;
    };
    check_parted(order);
    if (!order.empty()) agree(order.size(), "--order");
    if (!intervals_deg.empty()) agree(intervals_deg.size(), "--intervals");
    if (!cylinders)
        refuse("--cylinders", "the number of cylinders is not known",
               "give --cylinders 4, or --order 1-3-4-2");
    if (*cylinders < 1 || *cylinders > max_cylinders)
        refuse("--cylinders", fmt::format("{} cylinders cannot be analysed", *cylinders),
               fmt::format("give 1 to {} cylinders", max_cylinders));
    check_order(order);

    EngineLayout layout;
    const auto count = static_cast<std::size_t>(*cylinders);
    layout.order = order;
    layout.intervals_deg =
        intervals_deg.empty() ? std::vector<double>(count, cycle_deg / *cylinders) : intervals_deg;
    for (const double interval : layout.intervals_deg)
        if (!(interval > 0))
            refuse("--intervals", fmt::format("{} degrees is not an interval", interval),
                   "give the positive degrees from each firing to the next, as in 150,90,150,90,150,90");
    const double sum = std::accumulate(layout.intervals_deg.begin(), layout.intervals_deg.end(), 0.0);
    if (std::abs(sum - cycle_deg) > interval_sum_tolerance_deg)
        refuse("--intervals", fmt::format("the intervals sum to {:g} degrees", sum),
               "a four-stroke cycle is 720 degrees: give one interval per cylinder, 720 in all");
    if (first) {
        if (order.empty())
            refuse("--sync-cylinder", "a cylinder is named but the firing order is not known",
                   "give the order too, as in --order 1-3-4-2");
        const auto at = std::find(order.begin(), order.end(), *first);
        if (at == order.end())
            refuse("--sync-cylinder", fmt::format("cylinder {} is not in the firing order", *first),
                   "name a cylinder of --order");
        std::rotate(layout.order.begin(), layout.order.begin() + (at - order.begin()), layout.order.end());
    }
    return layout;
}

double displacement_m3(const Geometry& geometry) {
    return pi / 4 * geometry.bore_m * geometry.bore_m * geometry.stroke_m;
}

double volume_m3(const Geometry& geometry, double angle_rad) {
    const double clearance = displacement_m3(geometry) / (geometry.compression_ratio - 1);
    const double crank = geometry.stroke_m / 2;
    const double sine = std::sin(angle_rad);
    const double travel = crank * (1 - std::cos(angle_rad)) + geometry.rod_m -
                          std::sqrt(geometry.rod_m * geometry.rod_m - crank * crank * sine * sine);
    return clearance + pi / 4 * geometry.bore_m * geometry.bore_m * travel;
}

double volume_slope_m3_per_rad(const Geometry& geometry, double angle_rad) {
    const double crank = geometry.stroke_m / 2;
    const double sine = std::sin(angle_rad);
    const double cosine = std::cos(angle_rad);
    const double rod_height = std::sqrt(geometry.rod_m * geometry.rod_m - crank * crank * sine * sine);
    return pi / 4 * geometry.bore_m * geometry.bore_m * crank * sine * (1 + crank * cosine / rod_height);
}

}  // namespace evenstroke
