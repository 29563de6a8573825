#include "load_notices.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "load_noise.hpp"

namespace evenstroke::contribution {

namespace {

/// A hump this far outside the interval is worth a notice.
constexpr double notable_hump_error_points = 5;
constexpr double notable_coasting_share = 0.05;
/// Fewer than two and a half steps from the lowest to the highest of the mean cycle.
constexpr double notable_step_share = 0.4;

}  // namespace

void say_cycles_left_out(Contribution& out, int recorded) {
    if (3 * *out.cycles_used > 2 * recorded) return;
    out.notices.push_back(
        {"cycles-left-out",
         fmt::format("{} of {} whole cycles were used: in the others the engine still sped up, "
                     "fired, or turned unlike the rest, or no mark gives their angle. Crank for "
                     "longer if the intervals are too wide",
                     *out.cycles_used, recorded)});
}

void say_coarse_steps(Contribution& out, const LoadSamples& samples, const CycleAverage& average,
                      const std::string& unit) {
    const double step = converter_step(samples.load);
    const double swing = average.mean.maxCoeff() - average.mean.minCoeff();
    if (step == 0 || step < notable_step_share * swing) return;
    out.notices.push_back(
        {"coarse-steps",
         fmt::format(
             "the recording has steps of {:.3g} {} and the compressions swing it by {:.3g} {} only. Set "
             "the smallest range that holds the trace, or more bits, for narrower intervals",
             step, unit, swing, unit)});
}

void compare_with_humps(Contribution& out, const FitResult& fit, const CrankAngle& angle,
                        const EngineLayout& layout) {
    double worst = 0;
    std::size_t at = 0;
    for (std::size_t c = 0; c < out.cylinders.size(); ++c) {
        const CylinderContribution& one = out.cylinders[c];
        if (!one.simple_pct || !one.contribution_pct) continue;
        const double beyond = std::max(*one.low_pct - *one.simple_pct, *one.simple_pct - *one.high_pct);
        if (beyond > worst) {
            worst = beyond;
            at = c;
        }
    }
    if (worst < notable_hump_error_points) return;
    const char* cause =
        fit.cycle.coasting_share > notable_coasting_share
            ? "after each firing TDC the crank runs ahead of the starter, which then does not feel it"
        : layout.cylinders() >= 6
            ? "neighbouring compressions overlap and the crank's inertia carries each into the next"
            : "the crank's inertia carries each compression into the next";
    out.notices.push_back(
        {"humps-mislead",
         fmt::format(
             "the height of the humps alone would give {} {:.0f} % where the model finds {:.0f} %: {}. "
             "Judge by the contribution, not by the humps",
             cylinder_names(angle, layout)[at].label, *out.cylinders[at].simple_pct,
             *out.cylinders[at].contribution_pct, cause)});
}

Notice counted_twice_notice(double speed_rpm) {
    return {"counted-twice",
            fmt::format(
                "{:.0f} rpm is fast for a starter, and without a sync each compression may have been counted "
                "twice, as behind a dual-mass flywheel: no cylinder is condemned on it; record a sync too",
                speed_rpm)};
}

}  // namespace evenstroke::contribution
