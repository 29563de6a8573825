// A compression gauge whose check valve holds the peak: what its puffs say.
#include <fmt/core.h>

#include <cmath>

#include "pressure_context.hpp"
#include "values/notices.hpp"
#include "values/pressure_factors.hpp"
#include "values/words.hpp"

namespace evenstroke::findings {

namespace {

/// Common practice, no published source: of spark-ignition engines.
constexpr double first_puff_ratio = 0.5, good_psi = 175;
/// Common practice, no published source: what a sound diesel reaches.
constexpr double diesel_low_psi = 300, diesel_high_psi = 500;
/// Spark-ignition engines knock above about 13, and diesels have 14 and more (from memory).
constexpr double most_spark_ratio = 13;

/// What the gauge holds after the last puff.
struct Held {
    double kpa = 0;  ///< gauge
    double psi = 0;
};

void say_puffs(PressureContext& c, const Held& held) {
    c.finding(
        "puffs",
        fmt::format("{} puffs, first {:.0f} % of the highest reading, {:.0f} kPa ({:.0f} psi) gauge",
                    c.p.puffs_kpa_gauge.size(), 100 * c.p.first_pulse_ratio.value_or(0), held.kpa, held.psi),
        {"common practice, no published source: the first puff should reach at least half of the final "
         "reading; about 90 psi is the least an engine runs on, 175 psi is good on one with spark ignition, "
         "and a sound diesel reaches 300 to 500 psi"});
}

void say_altitude(PressureContext& c, const Held& held) {
    const double density = air_density_ratio(*c.options.altitude_m);
    c.finding("altitude",
              fmt::format("At {:.0f} m ambient pressure is {:.3f} of sea level's: at sea level the final "
                          "reading would be about {:.0f} kPa (physical correction, by pressure)",
                          *c.options.altitude_m, c.p.ambient_kpa / ambient_at_kpa(0), c.at_sea(held.kpa)),
              {fmt::format("printed factor tables follow the air's density instead ({:.3f}): {:.0f} kPa",
                           density, held.kpa / density)});
}

void too_low(PressureContext& c, const Held& held) {
    c.out.outcome = PressureVerdict::low_compression;
    c.out.headline =
        fmt::format("The gauge ends at {:.0f} psi, below the {:.0f} psi that an engine needs to run.",
                    held.psi, least_psi);
    c.finding("low-rivals",
              "A leak and a charge that never came in (valves out of time or not lifting, a blocked "
              "intake, a throttle that was shut) read alike on a gauge",
              {"common practice, no published source: oil in the cylinder raises the reading where rings "
               "leak, the leak-down test shows any leak, and where neither shows one the charge is low"});
}

void low_first_puff(PressureContext& c, const Held& held) {
    const double first_pct = 100 * *c.p.first_pulse_ratio;
    if (c.p.puffs_kpa_gauge[1] < first_puff_ratio * held.kpa) {
        c.out.outcome = PressureVerdict::leaking;
        c.out.headline = fmt::format(
            "The first puff reaches only {:.0f} % of the final reading: it starts low and builds up, as with "
            "worn rings.",
            first_pct);
        return;
    }
    // A sound engine that stood 40 degrees before this cylinder's TDC puffs 8, 61, 84 % … (simulated).
    c.inconclusive(fmt::format(
        "only the first puff is low ({:.0f} % of the final reading), as when rings leak, but also when the "
        "crank stood within this cylinder's stroke: press the gauge's valve and crank again",
        first_pct));
}

/// 175 psi says nothing of an engine that should reach twice as much.
void diesel(PressureContext& c, const Held& held) {
    const bool below = c.at_sea(held.psi) < diesel_low_psi;
    c.inconclusive(fmt::format(
        "with a compression ratio of {:g} this is a diesel: sound ones reach {:.0f} to {:.0f} psi, {}: "
        "compare "
        "it with the maker's figure and the other cylinders",
        *c.options.compression_ratio, diesel_low_psi, diesel_high_psi,
        below ? fmt::format("more than its {:.0f} psi", held.psi)
              : fmt::format("each its own figure, so {:.0f} psi alone may still be low", held.psi)));
}

void good(PressureContext& c, const Held& held) {
    c.out.outcome = PressureVerdict::sealing;
    c.out.headline =
        fmt::format("The gauge builds up in {} to {:.0f} psi, a good reading on a petrol engine.",
                    counted(c.p.puffs_kpa_gauge.size(), "puffs"), held.psi);
    if (!c.options.compression_ratio)
        c.finding("spark-ignition-assumed",
                  fmt::format("{:.0f} psi is a good reading with spark ignition; a sound diesel reaches "
                              "{:.0f} to {:.0f} psi. --compression-ratio tells which it is",
                              good_psi, diesel_low_psi, diesel_high_psi),
                  {"common practice, no published source"});
}

}  // namespace

void judge_gauge(PressureContext& c) {
    const Held held{.kpa = *c.p.gauge_reading_kpa, .psi = *c.p.gauge_reading_kpa / kpa_per_psi};
    const auto count = c.p.puffs_kpa_gauge.size();
    say_puffs(c, held);
    if (c.options.altitude_m) say_altitude(c, held);
    const double at_sea_psi = c.at_sea(held.psi);
    if (at_sea_psi < good_psi && has_notice(c.p.notices, "check-valve-leaks"))
        return c.inconclusive(fmt::format(
            "the gauge shows {:.0f} psi at most, but its check valve does not hold, so the cylinder "
            "reaches more: mend the valve and crank again",
            held.psi));
    if (count < fewest_puffs)
        return c.inconclusive(
            fmt::format("only {} puff{}; crank at least four compressions, throttle wide "
                        "open",
                        count, count == 1 ? "" : "s"));
    if (at_sea_psi < least_psi) return too_low(c, held);
    if (c.p.first_pulse_ratio && *c.p.first_pulse_ratio < first_puff_ratio) return low_first_puff(c, held);
    // A leaking cylinder of an engine that should reach 200 psi ends here as a sound one of 130 does.
    if (at_sea_psi < good_psi)
        return c.inconclusive(fmt::format(
            "the gauge builds up to {:.0f} psi, between the {:.0f} that an engine needs to run and the "
            "{:.0f} that is good on a petrol engine: compare it with the maker's figure and the other "
            "cylinders",
            held.psi, least_psi, good_psi));
    if (c.options.compression_ratio.value_or(0) > most_spark_ratio) return diesel(c, held);
    good(c, held);
}

}  // namespace evenstroke::findings
