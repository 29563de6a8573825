// A compression gauge whose check valve holds the peak: what its puffs say.
#include <fmt/core.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "pressure_context.hpp"
#include "values/notices.hpp"
#include "values/pressure_factors.hpp"
#include "values/words.hpp"

namespace evenstroke::findings {

namespace {

/// Common practice, no published source: of spark-ignition engines.
constexpr double first_puff_ratio = 0.5, good_psi = 175;
/// A gauge that leads to this much more than it shows has not built up (common practice, no published source:
/// it is read when the needle hardly moves).
constexpr double far_to_go_ratio = 1.1;
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
        fmt::format("{}, first {:.0f} % of the highest reading, {:.0f} kPa ({:.0f} psi) gauge",
                    counted(c.p.puffs_kpa_gauge.size(), "puffs"), 100 * c.p.first_pulse_ratio.value_or(0),
                    held.kpa, held.psi),
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

/// Where the puffs lead: a gauge comes nearer to its end by the same share with each. Empty where they do
/// not come nearer.
std::optional<double> end_kpa(const std::vector<double>& puffs_kpa) {
    const std::size_t n = puffs_kpa.size();
    const double first_step = puffs_kpa[1] - puffs_kpa[0], last_step = puffs_kpa[n - 1] - puffs_kpa[n - 2];
    const double ratio = std::pow(last_step / first_step, 1 / static_cast<double>(n - 2));
    if (!(ratio < 1)) return {};
    return puffs_kpa.back() + last_step * ratio / (1 - ratio);
}

/// Whether a gauge that is too low has far to go, to a pressure that an engine may run on.
bool still_climbs(const PressureContext& c, const Held& held) {
    const auto end = end_kpa(c.p.puffs_kpa_gauge);
    return !end || (*end > far_to_go_ratio * held.kpa && c.at_sea(*end / kpa_per_psi) >= least_psi);
}

/// What fewer puffs than a compression test takes leave open; more compressions could only raise the reading.
void few_puffs(PressureContext& c, const Held& held) {
    const std::string puffs = counted(c.p.puffs_kpa_gauge.size(), "puffs");
    if (!c.p.puffs_stood)
        return c.inconclusive("only " + puffs + "; crank at least four compressions, throttle wide open");
    c.inconclusive(fmt::format(
        "after {} the gauge stood at {:.0f} psi and rose no more: it was full, or the crank had stopped. "
        "Compressions that do not raise it leave no trace, so whether there were four is not seen. If there "
        "were, {}",
        puffs, held.psi,
        c.at_sea(held.psi) < least_psi
            ? "this is less than an engine needs to run: crank again and count them"
            : "compare the reading with the maker's figure and the other cylinders"));
}

/// A steady leak lowers every puff alike, and a gauge that fills slowly comes nearer to its end by the same
/// share with each puff: the rule of thumb that worn rings start low and build up cannot be told from it.
void low_first_puff(PressureContext& c, const Held& held) {
    const bool second_too = c.p.puffs_kpa_gauge[1] < first_puff_ratio * held.kpa;
    // A sound engine that stood 40 degrees before this cylinder's TDC puffs 8, 61, 84 % … (simulated).
    c.inconclusive(fmt::format(
        "the first puff reaches only {:.0f} % of the final reading, as when rings leak, but also where the "
        "gauge fills slowly (long hose, small valve){}: use the same gauge on another cylinder; if that "
        "builds up alike, it is the gauge",
        100 * *c.p.first_pulse_ratio,
        second_too ? ""
                   : " or the crank stood within this cylinder's stroke (press its valve and crank again)"));
    c.low_first_puff = true;
}

/// 175 psi says nothing of an engine that should reach twice as much.
void diesel(PressureContext& c, const Held& held) {
    const bool below = c.at_sea(held.psi) < diesel_low_psi;
    c.inconclusive(fmt::format(
        "with a compression ratio of {:g} this is a diesel: sound ones reach {:.0f} to {:.0f} psi, {}: "
        "compare it with the maker's figure and the other cylinders",
        *c.options.compression_ratio, diesel_low_psi, diesel_high_psi,
        below ? fmt::format("more than its {:.0f} psi", held.psi)
              : fmt::format("each its own figure, so {:.0f} psi alone may still be low", held.psi)));
}

/// Good on a petrol engine only: where nobody says that it is one, the sentence must not pass a diesel.
void good(PressureContext& c, const Held& held) {
    c.out.outcome = PressureVerdict::sealing;
    const std::string seen = fmt::format("The gauge builds up in {} to {:.0f} psi",
                                         counted(c.p.puffs_kpa_gauge.size(), "puffs"), held.psi);
    if (c.options.compression_ratio || c.at_sea(held.psi) >= diesel_high_psi) {
        c.out.headline = seen + ", a good reading on a petrol engine.";
    } else {
        c.out.headline = fmt::format(
            "{}: good if this is a petrol engine, but {} on a diesel, where sound cylinders reach {:.0f} to "
            "{:.0f} psi.",
            seen, c.at_sea(held.psi) < diesel_low_psi ? "low" : "perhaps low", diesel_low_psi,
            diesel_high_psi);
    }
    if (c.options.compression_ratio) return;
    c.finding("spark-ignition-assumed",
              fmt::format("{:.0f} psi is a good reading with spark ignition alone. --compression-ratio tells "
                          "which engine it is",
                          good_psi),
              {"common practice, no published source"});
}

}  // namespace

void judge_gauge(PressureContext& c) {
    const Held held{.kpa = *c.p.gauge_reading_kpa, .psi = *c.p.gauge_reading_kpa / kpa_per_psi};
    say_puffs(c, held);
    if (c.options.altitude_m) say_altitude(c, held);
    const double at_sea_psi = c.at_sea(held.psi);
    if (at_sea_psi < good_psi && has_notice(c.p.notices, "check-valve-leaks"))
        return c.inconclusive(fmt::format(
            "the gauge shows {:.0f} psi at most, but its check valve does not hold, so the cylinder "
            "reaches more: mend the valve and crank again",
            held.psi));
    if (at_sea_psi < good_psi && c.p.puffs_kpa_gauge.size() < fewest_puffs) return few_puffs(c, held);
    if (at_sea_psi < least_psi) {
        if (!still_climbs(c, held)) return too_low(c, held);
        return c.inconclusive(
            fmt::format("at {:.0f} psi the gauge still climbs and may reach the {:.0f} psi that an engine "
                        "needs to run: crank more compressions, until it stands",
                        held.psi, least_psi));
    }
    if (*c.p.first_pulse_ratio < first_puff_ratio) return low_first_puff(c, held);
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
