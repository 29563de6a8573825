#include "settle.hpp"

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke::contribution {

namespace {

/// A cycle departs when it is this many times as far off as its fellows usually are, and by at least the
/// floor.
constexpr double times_usual = 2.5;
constexpr double shape_floor_share = 0.03;   // of the load's swing
constexpr double level_floor_share = 0.05;   // of the load's swing
constexpr double period_floor_share = 0.02;  // of the period
constexpr int fewest_cycles_kept = 2;

/// Departure of each entry from the median of the reference range, in usual departures or floors.
std::vector<double> departures(const std::vector<double>& values, std::size_t from, std::size_t to,
                               double floor) {
    const std::vector<double> reference(values.begin() + static_cast<std::ptrdiff_t>(from),
                                        values.begin() + static_cast<std::ptrdiff_t>(to));
    const double middle = signal::median(reference);
    std::vector<double> off;
    for (const double v : reference) off.push_back(std::abs(v - middle));
    const double usual = std::max(floor, times_usual * signal::median(off));
    std::vector<double> out;
    for (const double v : values) out.push_back(std::abs(v - middle) / usual);
    return out;
}

}  // namespace

CycleRange alike(const CycleAverage& average) {
    const auto count = static_cast<std::size_t>(average.cycles.rows());
    CycleRange range{0, static_cast<int>(count)};
    if (count <= fewest_cycles_kept) return range;
    // The middle and what follows it: past the run-up.
    const std::size_t from = (count - 1) / 2;
    const std::size_t to = count;
    Eigen::ArrayXd typical = Eigen::ArrayXd::Zero(average.cycles.cols());
    for (std::size_t k = from; k < to; ++k)
        typical += average.cycles.row(static_cast<Eigen::Index>(k)).transpose();
    typical /= static_cast<double>(to - from);
    const double swing = std::sqrt((average.mean - average.mean.mean()).square().mean());

    std::vector<double> shape;
    for (std::size_t k = 0; k < count; ++k)
        shape.push_back(std::sqrt(
            (average.cycles.row(static_cast<Eigen::Index>(k)).transpose() - typical).square().mean()));
    std::vector<double> usual(shape.begin() + static_cast<std::ptrdiff_t>(from), shape.end());
    const double usual_shape = std::max(shape_floor_share * swing, times_usual * signal::median(usual));
    const std::vector<double> level = departures(average.levels, from, to, level_floor_share * swing);
    const std::vector<double> period =
        departures(average.periods_s, from, to, period_floor_share * average.period_s);
    const auto departs = [&](std::size_t k) {
        return shape[k] > usual_shape || level[k] > 1 || period[k] > 1;
    };
    const int fewest = std::max(fewest_cycles_kept, static_cast<int>(count + 1) / 2);
    while (range.last - range.first > fewest && departs(static_cast<std::size_t>(range.first))) ++range.first;
    while (range.last - range.first > fewest && departs(static_cast<std::size_t>(range.last - 1)))
        --range.last;
    return range;
}

AlikeCycles fold_alike(const LoadSamples& samples, const PhaseMap& phases, double from_s, double to_s) {
    AlikeCycles out{.average = fold(samples, phases, from_s, to_s), .from_s = from_s, .to_s = to_s};
    const CycleRange range = alike(out.average);
    const bool late = range.first > 0, early = range.last < static_cast<int>(out.average.cycles.rows());
    if (!late && !early) return out;
    if (late) out.from_s = phases.time_s(out.average.first_phase + range.first);
    if (early) out.to_s = phases.time_s(out.average.first_phase + range.last);
    out.average = fold(samples, phases, out.from_s, out.to_s);
    return out;
}

}  // namespace evenstroke::contribution
