#include "evenstroke/quantities.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

/// What both brushes of a starter drop, and how far that is uncertain. Common practice, no published source:
/// 0.3 V for copper-graphite to 1.3 V for worn ones.
constexpr double brush_v = 0.8, brush_sd_v = 0.3;

/// `ratio` times a factor with a relative standard deviation.
Figure times(const Figure& ratio, double factor, double relative_sd) {
    const double up =
        std::exp(std::hypot(std::log(ratio.high / ratio.value), signal::normal_95 * relative_sd));
    const double down =
        std::exp(std::hypot(std::log(ratio.value / ratio.low), signal::normal_95 * relative_sd));
    const double value = ratio.value * factor;
    return {.value = value, .low = value / down, .high = value * up};
}

Figure inverse(const Figure& figure) {
    return {.value = 1 / figure.value, .low = 1 / figure.high, .high = 1 / figure.low};
}

bool is_known(const CylinderContribution& c) {
    return c.contribution_pct && c.low_pct && c.high_pct && *c.contribution_pct > 0 && *c.high_pct > 0;
}

/// `kpa` at `reference`, carried over to `other`. The errors of both count, as if they were independent.
std::optional<Figure> carried(double kpa, const CylinderContribution& reference,
                              const CylinderContribution& other) {
    if (!is_known(reference) || !is_known(other) || !(*reference.low_pct > 0)) return std::nullopt;
    const double value = kpa * *other.contribution_pct / *reference.contribution_pct;
    const double up = std::hypot(std::log(*other.high_pct / *other.contribution_pct),
                                 std::log(*reference.contribution_pct / *reference.low_pct));
    const double reference_above = std::log(*reference.high_pct / *reference.contribution_pct);
    const double low = *other.low_pct > 0
                           ? value * std::exp(-std::hypot(std::log(*other.contribution_pct / *other.low_pct),
                                                          reference_above))
                           : 0.0;
    return Figure{.value = value, .low = low, .high = value * std::exp(up)};
}

}  // namespace

DriveFigures drive_figures(const Contribution& contribution, const BatteryLevels& battery) {
    DriveFigures out;
    if (!contribution.drive) return out;
    const DriveRatios& drive = *contribution.drive;
    out.stall_a = drive.stall_a;
    if (!battery.resting_v || !(*battery.resting_v > 2 * brush_v)) return out;
    const double drive_v = *battery.resting_v - brush_v;
    const double relative_sd = brush_sd_v / drive_v;
    constexpr double mohm = 1000;
    out.battery_channel = battery.channel;
    out.loop_mohm = times(inverse(drive.stall_a), mohm * drive_v, relative_sd);
    out.torque_nm = times(drive.torque_nm_per_v, drive_v, relative_sd);
    out.friction_nm = times(drive.friction_nm_per_v, drive_v, relative_sd);
    return out;
}

std::vector<std::optional<Figure>> peaks_kpa(const ReferencePeak& reference, const CrankAngle& angle,
                                             const Contribution& contribution, const EngineLayout& layout) {
    std::vector<std::optional<Figure>> peaks(static_cast<std::size_t>(layout.cylinders()));
    if (std::find(layout.order.begin(), layout.order.end(), reference.cylinder) == layout.order.end())
        throw Error(ErrorCode::bad_option, "--reference-cylinder",
                    fmt::format("cylinder {} is not in the firing order", reference.cylinder),
                    "name one of the cylinders of --order");
    if (angle.no_reference) return peaks;
    const auto names = cylinder_names(angle, layout);
    const auto at = std::find_if(names.begin(), names.end(), [&](const CylinderName& name_of) {
        return name_of.cylinder == reference.cylinder;
    });
    if (at == names.end())
        throw Error(ErrorCode::bad_option, "--reference-cylinder",
                    "this recording does not show which cylinder is which, so a measured pressure belongs to "
                    "none of its positions",
                    "give a reference that marks one cylinder: --sync, or --wheel with --sync");
    const auto own = static_cast<std::size_t>(at - names.begin());
    for (std::size_t i = 0; i < peaks.size() && i < contribution.cylinders.size(); ++i)
        peaks[i] = i == own ? Figure{reference.kpa, reference.kpa, reference.kpa}
                            : carried(reference.kpa, contribution.cylinders[own], contribution.cylinders[i]);
    return peaks;
}

std::optional<Notice> nothing_carried(const ReferencePeak& reference,
                                      const std::vector<std::optional<Figure>>& peaks,
                                      const Contribution& contribution) {
    const auto known =
        std::count_if(peaks.begin(), peaks.end(), [](const auto& peak) { return peak.has_value(); });
    if (peaks.size() < 2 || known != 1 || contribution.inconclusive) return std::nullopt;
    return Notice{"peak-not-carried",
                  fmt::format("how cylinder {} compares with the others is not known, so none of their "
                              "pressures follows from the one measured in it. Measure another and name it "
                              "with --reference-cylinder",
                              reference.cylinder)};
}

}  // namespace evenstroke
