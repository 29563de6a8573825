// A cylinder that loses most of its charge: told from the bare trace, where no fit holds.
#include <fmt/core.h>

#include <cmath>

#include "pressure_context.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::findings {

namespace {

/// A cylinder that loses most of its charge while it compresses stands below ambient when it has expanded. On
/// simulated engines that fall was a fifth of the gauge peak and more where a sixth or less was left of it,
/// 14 % at most with a starting decompressor, and 5 % where the cylinder seals: a wrong unit does not change
/// it.
constexpr double lost_undershoot_ratio = 1.0 / 6;
constexpr std::size_t fewest_lost = 3;
/// Transducers' zeros drift less (common practice, no published source): further off, unit and scale are
/// doubtful.
constexpr double most_level_off_kpa = 20;

}  // namespace

bool judge_lost_charge(PressureContext& c) {
    if (!c.p.bare || c.p.bare->count < fewest_lost) return false;
    const BarePressure& b = *c.p.bare;
    const double psi = b.gauge_peak_kpa / kpa_per_psi;
    const double at_sea_psi = c.at_sea(psi);
    if (at_sea_psi >= least_psi || b.undershoot_ratio < lost_undershoot_ratio) return false;
    const std::string seen =
        fmt::format("the compressions reach only {:.0f} kPa ({:.0f} psi) gauge", b.gauge_peak_kpa, psi);
    if (b.intake_drop_kpa > throttled_kpa) {
        c.inconclusive(
            fmt::format("{}, but the intake stroke is {:.0f} kPa below the exhaust stroke: hold the throttle "
                        "wide open and record again",
                        seen, b.intake_drop_kpa));
        return true;
    }
    if (std::abs(b.level_off_kpa) > most_level_off_kpa) {
        c.inconclusive(
            fmt::format("{}, but between strokes the readings are {:.0f} kPa from their zero: check unit and "
                        "scale, zero the transducer, and give --altitude",
                        seen, std::abs(b.level_off_kpa)));
        return true;
    }
    c.out.outcome = PressureVerdict::low_compression;
    c.out.headline = fmt::format(
        "The compressions reach {:.0f} psi gauge, below the {:.0f} psi that an engine needs to run.", psi,
        least_psi);
    c.finding(
        "charge-lost",
        fmt::format("Most of the charge is lost while it is compressed: after the peak the pressure falls "
                    "below ambient by {:.0f} % of the gauge peak",
                    100 * b.undershoot_ratio),
        {fmt::format("{} even compressions, gauge peak {:.0f} kPa ({:.0f} psi)", b.count, b.gauge_peak_kpa,
                     psi),
         "a cylinder that keeps its charge, however little, falls by 5 % (simulated)",
         "common practice, no published source: about 90 psi is the least an engine runs on"});
    c.finding("lost-rivals",
              "A valve that does not seat, a holed piston, a leak at the transducer's own adapter or a "
              "decompressor that stays open look alike");
    return true;
}

}  // namespace evenstroke::findings
