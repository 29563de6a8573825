// A cranked or motored cylinder: whether it seals, and whether its valves are in time.
#include <fmt/core.h>

#include <cmath>

#include "pressure_context.hpp"
#include "values/notices.hpp"

namespace evenstroke::findings {

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
/// A leak holds the compression down and lets the expansion fall faster, until little pressure is left to
/// drive it: where it leaves between this and a sealing cylinder's peak, the expansion's exponent stood 0.16
/// and more above the compression's on simulated engines.
constexpr double even_leak_ratio = 0.4, least_exponent_rise = 0.1;

/// Weather moves ambient pressure by less, and a transducer's zero should (common practice, no published
/// source).
constexpr double most_offset_kpa = 10;

std::string figure(const Figure& f, const char* unit, int decimals) {
    return fmt::format("{:.{}f}{} ({:.{}f} to {:.{}f})", f.value, decimals, unit, f.low, decimals, f.high,
                       decimals);
}

std::vector<std::string> evidence(const Pressure& p) {
    std::vector<std::string> e;
    if (p.sealed_ratio)
        e.push_back(
            "gauge peak relative to that of the same charge without a leak: " +
            figure({100 * p.sealed_ratio->value, 100 * p.sealed_ratio->low, 100 * p.sealed_ratio->high}, " %",
                   0));
    if (p.leak_mm2) e.push_back("effective leak area " + figure(*p.leak_mm2, " mm²", 2));
    if (p.loss_angle_deg) e.push_back("peak before TDC by " + figure(*p.loss_angle_deg, "°", 1));
    if (p.compression_exponent) e.push_back("compression exponent " + figure(*p.compression_exponent, "", 2));
    if (p.expansion_exponent) e.push_back("expansion exponent " + figure(*p.expansion_exponent, "", 2));
    return e;
}

/// Says when a valve event is out of time.
void timing(PressureContext& c, const char* event, const std::optional<double>& seen_deg,
            const std::optional<double>& expected_deg, double tolerance_deg) {
    if (!seen_deg || !expected_deg || std::abs(*seen_deg - *expected_deg) <= tolerance_deg) return;
    const double later_deg = *seen_deg - *expected_deg;
    const bool late = later_deg > 0;
    const std::string off =
        fmt::format("{:.0f} degrees {}", std::abs(std::round(*seen_deg) - std::round(*expected_deg)),
                    late ? "later" : "earlier");
    c.finding(
        "valve-timing",
        fmt::format("{} {:.0f} degrees {} firing TDC, {} than expected", event, std::abs(*seen_deg),
                    *seen_deg < 0 ? "before" : "after", off),
        {"simulated engines: the intake's closing is found to 7 degrees on average and 28 at worst, the "
         "exhaust's opening to 8 and 45"});
    if (c.timed) return;  // the first event makes the verdict, the other confirms or contradicts it
    c.timed = true;
    c.out.outcome = late ? PressureVerdict::late_valves : PressureVerdict::early_valves;
    c.out.headline = fmt::format("{} {} than expected.", event, off);
    c.test("valve-timing/recorded");
}

/// Whether the loss bends compression and expansion as a leak does.
bool bends_as_a_leak(const Pressure& p) {
    return !p.compression_exponent || !p.expansion_exponent || p.sealed_ratio->value < even_leak_ratio ||
           p.expansion_exponent->value > p.compression_exponent->value + least_exponent_rise;
}

/// The interval holds the limit.
void too_wide(PressureContext& c) {
    const Figure& f = *c.p.sealed_ratio;
    std::string reason = fmt::format(
        "the peak is between {:.0f} and {:.0f} % of what the charge would reach without any leak, and that "
        "interval contains the limit of {:.0f} %: it is too wide for a verdict",
        100 * f.low, 100 * f.high, 100 * leaking_below_ratio);
    if (!c.p.ratio_known) {
        reason += "; --compression-ratio narrows it";
        c.look_again = true;
        c.test("give-ratio");
    }
    c.inconclusive(reason);
}

void unlike_a_leak(PressureContext& c) {
    c.inconclusive(fmt::format(
        "the peak is {:.0f} % of what the charge would reach sealed, but {}", 100 * c.p.sealed_ratio->value,
        has_notice(c.p.notices, "floor")
            ? "the transducer does not show the end of the expansion, which "
              "would tell a leak from a starting "
              "decompressor that releases late"
            : "compression and expansion do not bend as a leak bends them: this points to "
              "a starting decompressor that releases late, or to wrong dimensions"));
    c.finding("not-as-a-leak", "A leak, a decompressor or wrong dimensions", evidence(c.p));
    c.test("leak-down/decompressor");
}

void leak_or_late_intake(PressureContext& c) {
    c.inconclusive(fmt::format(
        "little is trapped ({:.0f} %) and little of it is given back: a cylinder that leaks and one "
        "whose intake closes late look alike here",
        100 * c.p.trapped_ratio->value));
    c.finding("leak-or-late-intake", "A leak, or an intake that closes late", evidence(c.p));
    c.test("valve-timing/recorded");
    c.test("leak-down/valve-timing");
}

void leaking(PressureContext& c) {
    c.out.outcome = PressureVerdict::leaking;
    c.out.headline =
        fmt::format("This cylinder leaks: its peak is {:.0f} % of what its charge would reach sealed.",
                    100 * c.p.sealed_ratio->value);
    c.finding("leaking", "The cylinder loses charge while it is compressed", evidence(c.p));
    c.finding(
        "leak-path",
        "The pressure alone does not tell a leak past the rings from one at a valve or through the head "
        "gasket: all look steady here");
}

void low_charge(PressureContext& c) {
    c.out.outcome = PressureVerdict::low_charge;
    c.out.headline = fmt::format("Little is trapped: {:.0f} % of a cylinder at ambient pressure.",
                                 100 * c.p.trapped_ratio->value);
    c.finding("low-charge", "The intake closes late or the intake is throttled", evidence(c.p));
    c.test("intake");
}

void sealing(PressureContext& c) {
    c.out.outcome = PressureVerdict::sealing;
    c.out.headline = fmt::format(
        "This cylinder seals: its peak is {:.0f} % of what its charge would reach without any leak.",
        100 * c.p.sealed_ratio->value);
    c.finding("sealing", "The cylinder holds its charge", evidence(c.p));
}

/// What a bent rod, a wrong figure and, at the worst, a heavy leak make of a cylinder.
void other_ratio(PressureContext& c) {
    c.inconclusive(fmt::format(
        "the pressure fits a compression ratio of {:.1f} rather than the one given; with {:.1f} the cylinder "
        "seals ({:.0f} %), but the pressure alone does not tell whether the figure is wrong or the piston "
        "stays low",
        c.p.compression_ratio->value, c.p.compression_ratio->value, 100 * c.p.sealed_ratio->value));
    c.finding("other-ratio", "A bent rod, another piston or head, or a wrong figure", evidence(c.p));
    c.look_again = true;
    c.test("check-dimensions");
    c.test("piston-height");
}

/// From the fit of gas and motion; the geometry is known.
void judge_sealing(PressureContext& c) {
    const Pressure& p = c.p;
    if (p.sealed_ratio && p.sealed_ratio->high < leaking_below_ratio) {
        if (c.timed) return leaking(c);
        if (!bends_as_a_leak(p)) return unlike_a_leak(c);
        if (!p.trapped_ratio || p.trapped_ratio->value >= leak_keeps_ratio) return leaking(c);
        if (!judge_lost_charge(c)) leak_or_late_intake(c);
        return;
    }
    if (c.timed) return c.finding("sealing-figures", "Sealing of this cylinder", evidence(p));
    if (p.trapped_ratio && p.trapped_ratio->high < low_charge_ratio) return low_charge(c);
    if (p.sealed_ratio && p.sealed_ratio->low > leaking_below_ratio)
        return has_notice(p.notices, "lower-ratio") ? other_ratio(c) : sealing(c);
    if (judge_lost_charge(c)) return;
    if (!p.sealed_ratio) return c.inconclusive("a leak cannot be determined here (see the notices)");
    too_wide(c);
    c.finding("sealing-figures", "Sealing of this cylinder", evidence(p));
}

/// An absolute transducer whose level between strokes is not the ambient pressure that was assumed.
void offset_or_altitude(PressureContext& c) {
    const Pressure& p = c.p;
    if (p.gauge || c.options.altitude_m || !p.sensor_offset_kpa ||
        std::abs(p.sensor_offset_kpa->value) <= most_offset_kpa || has_notice(p.notices, "zero-unknown") ||
        has_notice(p.notices, "zero-contradicts") || has_notice(p.notices, "drift"))
        return;
    const double off_kpa = p.sensor_offset_kpa->value, ambient_kpa = p.ambient_kpa + off_kpa;
    if (off_kpa > 0)
        return c.finding("offset-or-altitude",
                         fmt::format("The transducer reads {:.0f} kPa more than the assumed {:.0f} kPa of "
                                     "ambient pressure: zero it, or give --altitude and --offset",
                                     off_kpa, p.ambient_kpa));
    // No road leads higher than some 6000 m, where 47 kPa are left (references: standard atmosphere).
    constexpr double least_ambient_kpa = 47;
    if (ambient_kpa < least_ambient_kpa)
        return c.finding("offset-or-altitude",
                         fmt::format("The transducer reads {:.0f} kPa less than the assumed {:.0f} kPa of "
                                     "ambient pressure, and no place is so high: zero it, or give --offset",
                                     -off_kpa, p.ambient_kpa));
    c.finding("offset-or-altitude",
              fmt::format(
                  "The transducer reads {:.0f} kPa less than the assumed {:.0f} kPa of ambient pressure: "
                  "either its zero is off, or the place is high (about {:.0f} m at {:.0f} kPa); give "
                  "--altitude, and pressures, charge and leak follow",
                  -off_kpa, p.ambient_kpa, std::round(altitude_of_m(ambient_kpa) / 100) * 100, ambient_kpa));
}

}  // namespace

void judge_motored(PressureContext& c) {
    const Pressure& p = c.p;
    offset_or_altitude(c);
    if (p.intake_kpa && p.exhaust_kpa && *p.exhaust_kpa - *p.intake_kpa > throttled_kpa)
        c.finding(
            "throttled",
            fmt::format("The intake stroke is {:.0f} kPa below the exhaust stroke: the throttle was not "
                        "open, or the intake is blocked",
                        *p.exhaust_kpa - *p.intake_kpa));
    if ((!p.tdc_known() || !p.geometry_known) && judge_lost_charge(c)) return;
    if (!p.tdc_known())
        return c.inconclusive(p.unfitted.value_or("no compression could be fitted (see the notices)"));
    if (!p.geometry_known) {
        c.inconclusive(
            "without bore, stroke and rod a leak cannot be told from a typical cylinder's losses; give "
            "--bore, --stroke, --rod and --compression-ratio");
        c.look_again = true;
        c.test("give-geometry");
        return;
    }
    timing(c, "Intake closes", p.intake_closes_deg, c.options.expect_intake_closes_deg,
           closing_tolerance_deg);
    timing(c, "Exhaust opens", p.exhaust_opens_deg, c.options.expect_exhaust_opens_deg,
           opening_tolerance_deg);
    judge_sealing(c);
}

}  // namespace evenstroke::findings
