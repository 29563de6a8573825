#include "load_screen.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "settle.hpp"

namespace evenstroke::contribution {

namespace {

/// A stretch of the cycle without a sample, as a share of the mean firing interval, that leaves a cylinder
/// unseen.
constexpr double widest_gap_share = 0.25;
/// Swing of the folded load below this share of its mean is no compression.
constexpr double least_swing_share = 0.004;
/// Swing of the folded load must exceed what the scatter between cycles makes by chance this many times.
constexpr double least_swing_over_scatter = 3.0;

constexpr const char* nothing_compresses =
    "the load hardly varies over the engine's cycle: nothing seems to compress (spark plugs out, a "
    "decompression device, or the starter turns without the engine)";

/// Compressions that no engine model follows are doubted when the load swings less than this: compressions of
/// twelve cylinders, whose load is the smoothest, make more of it in every simulated engine.
constexpr double doubtful_swing_ratio = 0.07;

/// What the scatter between cycles leaves of the mean cycle by chance; of two cycles at least.
double scatter_of_mean(const CycleAverage& average) {
    const auto rows = static_cast<double>(average.cycles.rows());
    double scatter = 0;
    for (Eigen::Index k = 0; k < average.cycles.rows(); ++k)
        scatter += (average.cycles.row(k).transpose() - average.mean).square().mean();
    return std::sqrt(scatter / (rows - 1) / rows);
}

}  // namespace

std::optional<std::string> unfit(const CycleAverage& average, const EngineLayout& layout, bool flat_load) {
    if (average.span_cycles < fewest_cycles)
        return fmt::format(
            "only {:.1f} settled engine cycles were recorded: crank for at least five seconds with fuel and "
            "ignition "
            "disabled",
            std::max(0.0, average.span_cycles));
    if (average.widest_gap * layout.cylinders() > widest_gap_share)
        return "too much of each cycle is missing or clipped to see every cylinder: record again with a "
               "wider range or "
               "a higher sample rate";
    if (!average.mean.allFinite()) return "the trace holds values that are not numbers: record again";
    const double swing = std::sqrt((average.mean - average.mean.mean()).square().mean());
    const double level = std::abs(average.mean.mean());
    if (!(swing > least_swing_share * level) || !(level > 0)) return nothing_compresses;
    if (average.cycles.rows() >= 2 && swing < least_swing_over_scatter * scatter_of_mean(average))
        return flat_load ? nothing_compresses
                         : "the cycles do not agree with each other: check the number of cylinders, the "
                           "sync channel and the clamp, and record again at steady cranking";
    return std::nullopt;
}

std::string misfit_reason(const Cranking& cranking, const CrankAngle& angle) {
    if (cranking.swing_ratio && *cranking.swing_ratio < doubtful_swing_ratio) return nothing_compresses;
    const std::string begun =
        "no engine with these firing intervals makes such a trace: check the number of "
        "cylinders, the intervals";
    if (angle.kind != ReferenceKind::sync) return begun + " and the clamp or leads";
    // Half a firing interval off, the humps stand where no cylinder compresses.
    return begun + fmt::format(
                       ", the sync channel and --sync-lead, the degrees from its mark to TDC ({:g} were "
                       "taken)",
                       angle.lead_deg);
}

}  // namespace evenstroke::contribution
