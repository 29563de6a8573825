// What one cylinder's pressure says about it: verdict, evidence, and what to test next.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "case.hpp"
#include "evenstroke/units.hpp"

namespace evenstroke {

namespace {

/// The makers' rule (lowest at least 75 % of the highest), turned to one cylinder: a leak that takes more
/// than a quarter of the gauge peak that the same charge would reach without it.
constexpr double leaking_below_ratio = 0.75;
/// No published source: an intake that closes later than about 90 degrees before TDC traps less than this.
constexpr double low_charge_ratio = 0.70;
/// What leaks in compression was there at its start: on the simulated bench leaking cylinders trapped 84 %
/// and more. Less is an intake's doing, or a fit's that went astray.
constexpr double leak_keeps_ratio = 0.75;
/// Less than this says nothing: on simulated engines the errors stayed below, 28 and 45.4 at worst
/// (docs/accuracy.md).
constexpr double closing_tolerance_deg = 35, opening_tolerance_deg = 50;
/// A throttle that is not open shows as a plateau this far below the exhaust's.
constexpr double throttled_kpa = 12;
/// Common practice, no published source.
constexpr double first_puff_ratio = 0.5, least_psi = 90, good_psi = 175;
constexpr int fewest_puffs = 4;
/// A cylinder that loses most of its charge while it compresses stands below ambient when it has expanded. On
/// simulated engines that fall was a fifth of the gauge peak and more where a sixth or less was left of it,
/// 14 % at most with a starting decompressor, and 5 % where the cylinder seals: a wrong unit does not change
/// it.
constexpr double lost_undershoot_ratio = 1.0 / 6;
constexpr std::size_t fewest_lost = 3;
/// Transducers' zeros drift less (common practice, no published source): further off, unit and scale are
/// doubtful.
constexpr double most_level_off_kpa = 20;
/// A leak holds the compression down and lets the expansion fall faster, until little pressure is left to
/// drive it: where it leaves between this and a sealing cylinder's peak, the expansion's exponent stood 0.16
/// and more above the compression's on simulated engines.
constexpr double even_leak_ratio = 0.4, least_exponent_rise = 0.1;

std::string figure(const Figure& f, const char* unit, int decimals) {
    return fmt::format("{:.{}f}{} ({:.{}f} to {:.{}f})", f.value, decimals, unit, f.low, decimals, f.high,
                       decimals);
}

struct Judge {
    const Pressure& p;
    const PressureOptions& options;
    PressureFindings out;
    bool timed = false;       ///< a valve event is out of time
    bool look_again = false;  ///< the same recording tells more with more options

    void finding(const char* code, std::string text, std::vector<std::string> evidence = {}) {
        out.findings.push_back({code, std::move(text), std::move(evidence)});
    }
    void test(const char* code, std::string text) { out.next_tests.push_back({code, std::move(text)}); }
    void inconclusive(const std::string& reason) {
        out.outcome = PressureVerdict::inconclusive;
        out.headline = "No verdict: " + findings::clause(reason) + ".";
    }

    void gauge() {
        const double final_kpa = p.puffs_kpa_gauge.back();
        const double final_psi = final_kpa / find_unit("psi")->factor;
        const auto count = p.puffs_kpa_gauge.size();
        finding(
            "puffs",
            fmt::format("{} puffs, first {:.0f} % of the last, final reading {:.0f} kPa ({:.0f} psi) gauge",
                        count, 100 * p.first_pulse_ratio.value_or(0), final_kpa, final_psi),
            {"common practice, no published source: the first puff should reach at least half of the final "
             "reading; about 90 psi is the least an engine runs on, 175 psi is good"});
        if (options.altitude_m)
            finding(
                "altitude",
                fmt::format("At {:.0f} m ambient pressure is {:.3f} of sea level's: at sea level the final "
                            "reading would be about {:.0f} kPa (physical correction, by pressure)",
                            *options.altitude_m, p.ambient_kpa / 101.325,
                            final_kpa * 101.325 / p.ambient_kpa),
                {fmt::format("printed factor tables follow the air's density instead ({:.3f}): {:.0f} kPa",
                             density_ratio(), final_kpa / density_ratio())});
        if (count < fewest_puffs) {
            inconclusive(fmt::format("only {} puff{}; crank at least four compressions, throttle wide open",
                                     count, count == 1 ? "" : "s"));
            return;
        }
        const double at_sea_psi = options.altitude_m ? final_psi * 101.325 / p.ambient_kpa : final_psi;
        const bool low_first = p.first_pulse_ratio && *p.first_pulse_ratio < first_puff_ratio;
        if (at_sea_psi < least_psi) {
            out.outcome = PressureVerdict::low_compression;
            out.headline =
                fmt::format("The gauge ends at {:.0f} psi, below the {:.0f} psi that an engine needs to run.",
                            final_psi, least_psi);
            finding(
                "low-rivals",
                "A leak and a charge that never came in (valves out of time or not lifting, a blocked "
                "intake, a "
                "throttle that was shut) end alike on a gauge",
                {"common practice, no published source: oil in the cylinder raises the reading where rings "
                 "leak, the leak-down test tells any leak, and where neither shows one the charge is low"});
        } else if (low_first && p.puffs_kpa_gauge[1] < first_puff_ratio * final_kpa) {
            out.outcome = PressureVerdict::leaking;
            out.headline = fmt::format(
                "The first puff reaches only {:.0f} % of the final reading: low first and building up, as "
                "worn rings do.",
                100 * *p.first_pulse_ratio);
        } else if (low_first) {
            // A sound engine that stood 40 degrees before this cylinder's TDC puffs 8, 61, 84 % …
            // (simulated).
            inconclusive(fmt::format(
                "only the first puff is low ({:.0f} % of the final reading), as where rings leak, but also "
                "where the "
                "crank stood within this cylinder's stroke: press the gauge's valve and crank again",
                100 * *p.first_pulse_ratio));
        } else if (at_sea_psi < good_psi) {
            // A leaking cylinder of an engine that should reach 200 psi ends here as a sound one of 130 does.
            inconclusive(fmt::format(
                "the gauge builds up to {:.0f} psi, between the {:.0f} that an engine needs to run and the "
                "{:.0f} "
                "that are good on any: hold it against the maker's figure and the other cylinders",
                final_psi, least_psi, good_psi));
        } else {
            out.outcome = PressureVerdict::sealing;
            out.headline = fmt::format("The gauge builds up in {} puffs to {:.0f} psi, a good reading.",
                                       count, final_psi);
        }
    }
    /// ISA density ratio: (1 - 2.25577e-5 Z)^4.2559, from the standard atmosphere.
    [[nodiscard]] double density_ratio() const {
        return std::pow(1 - 2.25577e-5 * *options.altitude_m, 4.2559);
    }

    [[nodiscard]] std::vector<std::string> evidence() const {
        std::vector<std::string> e;
        if (p.sealed_ratio)
            e.push_back(
                "gauge peak over that of the same charge without leak: " +
                figure({100 * p.sealed_ratio->value, 100 * p.sealed_ratio->low, 100 * p.sealed_ratio->high},
                       " %", 0));
        if (p.leak_mm2) e.push_back("effective leak area " + figure(*p.leak_mm2, " mm2", 2));
        if (p.loss_angle_deg) e.push_back("peak before TDC by " + figure(*p.loss_angle_deg, " deg", 1));
        if (p.compression_exponent)
            e.push_back("compression exponent " + figure(*p.compression_exponent, "", 2));
        if (p.expansion_exponent) e.push_back("expansion exponent " + figure(*p.expansion_exponent, "", 2));
        return e;
    }
    /// Says when a valve event is out of time.
    void timing(const char* event, const std::optional<double>& seen_deg,
                const std::optional<double>& expected_deg, double tolerance_deg) {
        if (!seen_deg || !expected_deg || std::abs(*seen_deg - *expected_deg) <= tolerance_deg) return;
        const double later_deg = *seen_deg - *expected_deg;
        const bool late = later_deg > 0;
        const std::string off =
            fmt::format("{:.0f} degrees {}", std::abs(std::round(*seen_deg) - std::round(*expected_deg)),
                        late ? "later" : "earlier");
        finding(
            "valve-timing",
            fmt::format("{} {:.0f} degrees {} firing TDC, {} than expected", event, std::abs(*seen_deg),
                        *seen_deg < 0 ? "before" : "after", off),
            {"simulated engines: the intake's closing is found to 7 degrees on average and 28 at worst, the "
             "exhaust's opening to 8 and 45"});
        if (timed) return;  // the first event makes the verdict, the other confirms or contradicts it
        timed = true;
        out.outcome = late ? PressureVerdict::late_valves : PressureVerdict::early_valves;
        out.headline = fmt::format("{} {} than expected.", event, off);
        test("valve-timing",
             "Check the camshaft drive's marks and the phaser's rest position; on solid lifters the "
             "clearance.");
    }
    /// Whether most of the charge is lost, whatever the fit makes of it; then the outcome is set.
    bool lost() {
        if (!p.bare || p.bare->count < fewest_lost) return false;
        const BarePressure& b = *p.bare;
        const double psi = b.gauge_peak_kpa / find_unit("psi")->factor;
        const double at_sea_psi = options.altitude_m ? psi * 101.325 / p.ambient_kpa : psi;
        if (at_sea_psi >= least_psi || b.undershoot_ratio < lost_undershoot_ratio) return false;
        const std::string seen =
            fmt::format("the compressions reach {:.0f} kPa ({:.0f} psi) gauge only", b.gauge_peak_kpa, psi);
        if (b.intake_drop_kpa > throttled_kpa) {
            inconclusive(
                fmt::format("{}, but the intake stroke stands {:.0f} kPa below the exhaust stroke: hold "
                            "the throttle wide open and record again",
                            seen, b.intake_drop_kpa));
            return true;
        }
        if (std::abs(b.level_off_kpa) > most_level_off_kpa) {
            inconclusive(
                fmt::format("{}, but between strokes the readings stand {:.0f} kPa from their zero: "
                            "check unit and scale, zero the transducer, and give --altitude",
                            seen, std::abs(b.level_off_kpa)));
            return true;
        }
        out.outcome = PressureVerdict::low_compression;
        out.headline = fmt::format(
            "The compressions reach {:.0f} psi gauge, below the {:.0f} psi that an engine needs to run.", psi,
            least_psi);
        finding("charge-lost",
                fmt::format(
                    "Most of the charge is lost while it is compressed: after the peak the pressure falls "
                    "below ambient by {:.0f} % of the gauge peak",
                    100 * b.undershoot_ratio),
                {fmt::format("{} even compressions, gauge peak {:.0f} kPa ({:.0f} psi)", b.count,
                             b.gauge_peak_kpa, psi),
                 "a cylinder that keeps its charge, however little, falls by 5 % (simulated)",
                 "common practice, no published source: about 90 psi is the least an engine runs on"});
        finding("lost-rivals",
                "A valve that does not seat, a holed piston, a leak at the transducer's own adapter or a "
                "decompressor that stays open look alike");
        return true;
    }
    /// Whether the loss bends compression and expansion as a leak does.
    [[nodiscard]] bool bends_as_a_leak() const {
        return !p.compression_exponent || !p.expansion_exponent || p.sealed_ratio->value < even_leak_ratio ||
               p.expansion_exponent->value > p.compression_exponent->value + least_exponent_rise;
    }
    /// The interval holds the limit.
    void too_wide() {
        const Figure& f = *p.sealed_ratio;
        std::string reason = fmt::format(
            "the peak is between {:.0f} and {:.0f} % of what the charge would reach without any leak, and "
            "that interval holds the limit of {:.0f} %: it is too wide for a verdict",
            100 * f.low, 100 * f.high, 100 * leaking_below_ratio);
        if (!p.ratio_known) {
            reason += "; --compression-ratio narrows it";
            look_again = true;
            test("give-ratio",
                 "Analyse this recording again with --compression-ratio; nothing need be recorded anew.");
        }
        inconclusive(reason);
    }
    void motored() {
        if (p.intake_kpa && p.exhaust_kpa && *p.exhaust_kpa - *p.intake_kpa > throttled_kpa)
            finding("throttled", fmt::format("The intake stroke stands {:.0f} kPa below the exhaust stroke: "
                                             "the throttle was not open, or the intake is blocked",
                                             *p.exhaust_kpa - *p.intake_kpa));
        if ((!p.tdc_known() || !p.geometry_known) && lost()) return;
        if (!p.tdc_known()) {
            inconclusive(p.unfitted.value_or("no compression could be fitted (see the notices)"));
            return;
        }
        if (!p.geometry_known) {
            inconclusive(
                "without bore, stroke and rod a leak cannot be told from a usual cylinder's losses; give "
                "--bore, --stroke, --rod and --compression-ratio");
            look_again = true;
            test("give-geometry",
                 "Analyse this recording again with the cylinder's dimensions; nothing need be recorded "
                 "anew.");
            return;
        }
        timing("Intake closes", p.intake_closes_deg, options.expect_intake_closes_deg, closing_tolerance_deg);
        timing("Exhaust opens", p.exhaust_opens_deg, options.expect_exhaust_opens_deg, opening_tolerance_deg);
        const bool leaks = p.sealed_ratio && p.sealed_ratio->high < leaking_below_ratio;
        if (leaks && !timed && !bends_as_a_leak()) {
            inconclusive(
                fmt::format("the peak is {:.0f} % of what the charge would reach sealed, but compression and "
                            "expansion do not bend as a leak bends them: so a starting decompressor that "
                            "lets go late, or wrong dimensions",
                            100 * p.sealed_ratio->value));
            finding("not-as-a-leak", "A leak, a decompressor or wrong dimensions", evidence());
            test("leak-down",
                 "Leak-down test at TDC of compression with the crank held, any decompressor released.");
        } else if (leaks && !timed && p.trapped_ratio && p.trapped_ratio->value < leak_keeps_ratio) {
            if (lost()) return;
            inconclusive(fmt::format(
                "little is trapped ({:.0f} %) and little of it is given back: a cylinder that leaks "
                "and one whose intake closes late look alike here",
                100 * p.trapped_ratio->value));
            finding("leak-or-late-intake", "A leak, or an intake that closes late", evidence());
            test("valve-timing", "Check the camshaft drive's marks and the phaser's rest position.");
            test(
                "leak-down",
                "Leak-down test at TDC of compression with the crank held: a cylinder that holds its air has "
                "its valves out of time.");
        } else if (leaks) {
            out.outcome = PressureVerdict::leaking;
            out.headline = fmt::format(
                "This cylinder leaks: its peak is {:.0f} % of what its charge would reach sealed.",
                100 * p.sealed_ratio->value);
            finding("leaking", "The cylinder loses charge while it is compressed", evidence());
            finding("leak-path",
                    "The pressure alone does not tell a leak past the rings from one at a valve: both look "
                    "steady here");
        } else if (timed) {
            finding("sealing-figures", "Sealing of this cylinder", evidence());
        } else if (p.trapped_ratio && p.trapped_ratio->high < low_charge_ratio) {
            out.outcome = PressureVerdict::low_charge;
            out.headline = fmt::format("Little is trapped: {:.0f} % of a cylinder at ambient pressure.",
                                       100 * p.trapped_ratio->value);
            finding("low-charge", "The intake closes late or the intake is throttled", evidence());
            test("intake",
                 "Hold the throttle open and look for a blocked intake; then check valve timing and lift.");
        } else if (p.sealed_ratio && p.sealed_ratio->low > leaking_below_ratio) {
            out.outcome = PressureVerdict::sealing;
            out.headline = fmt::format(
                "This cylinder seals: its peak is {:.0f} % of what its charge would reach without any leak.",
                100 * p.sealed_ratio->value);
            finding("sealing", "The cylinder holds its charge", evidence());
        } else if (lost()) {
            return;
        } else if (!p.sealed_ratio) {
            inconclusive("a leak cannot be told here (see the notices)");
        } else {
            too_wide();
            finding("sealing-figures", "Sealing of this cylinder", evidence());
        }
    }
    /// What would help depends on what stood in the way.
    void look_or_record_again() {
        if (has_notice(p.notices, "clipped")) {
            test("larger-range",
                 "Choose a larger range, or a transducer for higher pressure, and record again in the same "
                 "way.");
            return;
        }
        if (has_notice(p.notices, "no-fit") || has_notice(p.notices, "implausible"))
            test("check-dimensions",
                 "Check bore, stroke, rod, compression ratio, unit and scale, and analyse this recording "
                 "again: if one was wrong, nothing need be recorded anew.");
        test("repeat-capture",
             "Record again: every plug out, throttle wide open, fuel and ignition disabled, engine warm, "
             "at least four compressions.");
    }
    void tests() {
        const bool read_well =
            p.kind == PressureKind::staircase && p.puffs_kpa_gauge.size() >= std::size_t{fewest_puffs};
        if (out.outcome == PressureVerdict::inconclusive && read_well)
            test(
                "other-cylinder",
                "The gauge on every other cylinder in the same way: the lowest should reach at least 75 % of "
                "the highest. Look up the maker's figure.");
        else if (out.outcome == PressureVerdict::inconclusive && !look_again)
            look_or_record_again();
        if (out.outcome == PressureVerdict::leaking || out.outcome == PressureVerdict::low_compression) {
            test("wet-test",
                 "Wet test (spark ignition only): 15 ml of oil in this cylinder and the recording again. A "
                 "clear rise points to rings or bore; none points to valves or head gasket.");
            test("leak-down",
                 "Leak-down test at TDC of compression with the crank held: listen at intake, exhaust, oil "
                 "filler and coolant for where the air goes.");
        }
        if (out.outcome == PressureVerdict::low_compression)
            test("intake",
                 "Without a leak: hold the throttle open, look for a blocked intake, and check valve timing "
                 "and lift.");
        if (out.outcome == PressureVerdict::sealing)
            test("other-cylinder", "Record another cylinder the same way for comparison.");
    }
};

}  // namespace

const char* name(PressureVerdict verdict) {
    switch (verdict) {
        case PressureVerdict::sealing:
            return "sealing";
        case PressureVerdict::leaking:
            return "leaking";
        case PressureVerdict::low_charge:
            return "low charge";
        case PressureVerdict::low_compression:
            return "low compression";
        case PressureVerdict::late_valves:
            return "late valves";
        case PressureVerdict::early_valves:
            return "early valves";
        case PressureVerdict::inconclusive:
            break;
    }
    return "inconclusive";
}

PressureFindings judge_pressure(const Pressure& pressure, const PressureOptions& options) {
    Judge judge{pressure, options, {}};
    if (pressure.inconclusive)
        judge.inconclusive(*pressure.inconclusive);
    else if (pressure.kind == PressureKind::staircase)
        judge.gauge();
    else
        judge.motored();
    judge.tests();
    judge.out.cautions = findings::cautions(judge.out.next_tests);
    return judge.out;
}

}  // namespace evenstroke
