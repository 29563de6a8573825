// First puffs, and what oil in the cylinder changes.
#include <fmt/core.h>

#include <algorithm>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke::findings::finds {

namespace {

// Common practice, no published source: the trade says "rises" and "does not"; between the two lies what a
// gauge's own repeatability could make.
constexpr double clear_rise_pct = 10;
constexpr double no_rise_pct = 5;
/// Oil fills part of any chamber, so the compression of a sound cylinder rises too: without one to hold
/// against, less than this proves little. Common practice, no published source.
constexpr double beyond_filling_pct = 25;
// "Low first puff, builds up" and "low, does not build" (PRINTED, references.md G) name no figure: half and
// four fifths of the last reading are common practice, no published source.
constexpr double low_puff_share = 0.5;
constexpr double full_puff_share = 0.8;

/// The rise beyond that of the sound cylinders.
std::optional<double> own_rise_pct(const Evidence& e, int cylinder) {
    const auto rise = wet_rise_pct(e, cylinder);
    if (!rise) return std::nullopt;
    return *rise - usual_wet_rise_pct(e).value_or(0);
}

std::string wet_words(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    std::string text =
        fmt::format("cylinder {}: dry {}, wet {} ({:+.0f} %)", cylinder, readings->dry_kpa->written,
                    readings->wet_kpa->written, *wet_rise_pct(e, cylinder));
    if (const auto usual = usual_wet_rise_pct(e)) text += fmt::format("; sound cylinders {:+.0f} %", *usual);
    return text;
}

enum class Rise { clear, none, between };

Rise rise_of(double rise_pct) {
    if (!below(rise_pct, clear_rise_pct)) return Rise::clear;
    return below(rise_pct, no_rise_pct) ? Rise::none : Rise::between;
}

bool may_be_filling(const Evidence& e, double rise_pct) {
    return !usual_wet_rise_pct(e) && rise_of(rise_pct) == Rise::clear && rise_pct < beyond_filling_pct;
}

bool is_low(const Evidence& e, int cylinder) {
    return is_suspect(e, cylinder) || ratio_state(e, cylinder) == State::between;
}

Matches wet(const Evidence& e, Rise wanted) {
    Matches found;
    for (const int cylinder : cylinders_of(e)) {
        const auto rise = own_rise_pct(e, cylinder);
        if (rise && is_low(e, cylinder) && rise_of(*rise) == wanted)
            found.push_back({.cylinders = {cylinder},
                             .evidence = {wet_words(e, cylinder)},
                             .close = may_be_filling(e, *rise)});
    }
    return found;
}

/// Low in all of them, with every wet reading on the same side.
Matches all_wet(const Evidence& e, Rise wanted) {
    Match match;
    if (all_low(e).empty()) return {};
    for (const int cylinder : cylinders_of(e)) {
        const auto rise = wet_rise_pct(e, cylinder);
        if (!rise) continue;
        if (rise_of(*rise) != wanted) return {};
        match.evidence.push_back(wet_words(e, cylinder));
        match.close = match.close || may_be_filling(e, *rise);
    }
    if (match.evidence.empty()) return {};
    return {match};
}

/// The first puff as a share of the last reading.
std::optional<double> puff_share(const CylinderReadings& readings) {
    if (!readings.first_puff_kpa || !readings.dry_kpa || !(readings.dry_kpa->value > 0)) return std::nullopt;
    return readings.first_puff_kpa->value / readings.dry_kpa->value;
}

bool starts_low(double share) {
    return !below(low_puff_share, share);
}

Matches puff(const Evidence& e, bool (*holds)(double share)) {
    Matches found;
    for (const auto& readings : e.sheet.cylinders) {
        const auto share = puff_share(readings);
        if (share && is_low(e, readings.cylinder) && holds(*share))
            found.push_back({.cylinders = {readings.cylinder},
                             .evidence = {fmt::format("cylinder {}: first puff {}, last {} ({:.0f} %)",
                                                      readings.cylinder, readings.first_puff_kpa->written,
                                                      readings.dry_kpa->written, 100 * *share)}});
    }
    return found;
}

/// A gauge that fills slowly (long hose, small valve) starts low on every cylinder (docs/pressure.md, "A
/// gauge with a check valve"): a cylinder that is not low shows whether it does.
bool fills_slowly(const Evidence& e) {
    return std::any_of(e.sheet.cylinders.begin(), e.sheet.cylinders.end(), [&](const CylinderReadings& r) {
        const auto share = puff_share(r);
        return share && !is_low(e, r.cylinder) && starts_low(*share);
    });
}

}  // namespace

Matches puff_builds(const Evidence& e) {
    if (fills_slowly(e)) return {};
    return puff(e, starts_low);
}

Matches puff_stays(const Evidence& e) {
    return puff(e, [](double share) { return !below(share, full_puff_share); });
}

Matches wet_rises(const Evidence& e) {
    return wet(e, Rise::clear);
}

Matches wet_stays(const Evidence& e) {
    return wet(e, Rise::none);
}

Matches wet_unclear(const Evidence& e) {
    return wet(e, Rise::between);
}

Matches wet_on_diesel(const Evidence& e) {
    if (e.sheet.engine.fuel != Fuel::diesel) return {};
    Match match;
    for (const auto& readings : e.sheet.cylinders)
        if (readings.wet_kpa) {
            match.cylinders.push_back(readings.cylinder);
            match.evidence.push_back(
                fmt::format("cylinder {}: wet {}", readings.cylinder, readings.wet_kpa->written));
        }
    if (match.evidence.empty()) return {};
    return {match};
}

Matches all_rise_wet(const Evidence& e) {
    return all_wet(e, Rise::clear);
}

Matches all_stay_wet(const Evidence& e) {
    return all_wet(e, Rise::none);
}

}  // namespace evenstroke::findings::finds
