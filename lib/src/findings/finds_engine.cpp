// Battery and starter, oil.
#include <fmt/core.h>

#include <algorithm>

#include "finders.hpp"
#include "measures.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::findings::finds {

namespace {

/// Engines crank at 150 to 250 rpm (references.md G, from memory).
constexpr double slow_rpm = 150;
/// Below this while cranking a 12 V battery is tested first. Source: 1999 service manual, PRINTED
/// (references.md G). A battery of other voltage: the same for each cell.
constexpr double sagging_v = 9.5;
constexpr double usual_battery_v = 12;
/// What batteries of 6 and of 24 V stay below and above at rest (2.0 to 2.2 V a cell, from memory).
constexpr double six_volts_most_v = 8;
constexpr double twenty_four_volts_least_v = 18;
// Oil pressure, hot, at 3000 rpm: commonly 45 to 100 psi. Common practice, no published source.
constexpr double usual_oil_least_kpa = 45 * kpa_per_psi;
constexpr double usual_oil_most_kpa = 100 * kpa_per_psi;

bool is_slow(const Evidence& e) {
    const auto speed = slowest_rpm(e);
    return speed && below(*speed, slow_rpm);
}

/// The limit for this battery. While it cranks nothing tells a flat one of 12 V from one of 6 V, but none of
/// 12 V stays above 13 V.
double sagging_limit_v(const Evidence& e) {
    constexpr double most_while_cranking_v = 13;
    const auto resting = resting_v(e);
    double nominal_v = usual_battery_v;
    if (resting && *resting < six_volts_most_v) nominal_v = usual_battery_v / 2;
    if ((resting && *resting > twenty_four_volts_least_v) || cranking_v(e) > most_while_cranking_v)
        nominal_v = usual_battery_v * 2;
    return sagging_v * nominal_v / usual_battery_v;
}

std::string battery_words(const Evidence& e) {
    std::string text =
        fmt::format("battery {:.1f} V while cranking, limit {:g} V", *cranking_v(e), sagging_limit_v(e));
    if (const auto resting = resting_v(e)) text += fmt::format("; {:.1f} V at rest", *resting);
    return text;
}

bool sags(const Evidence& e) {
    return cranking_v(e) && below(*cranking_v(e), sagging_limit_v(e));
}

std::string speed_words(const Evidence& e) {
    return fmt::format("cranks at {:.0f} rpm; usual 150 to 250 rpm", *slowest_rpm(e));
}

struct OilReading {
    const std::optional<Measured>& read;
    const std::optional<Measured>& maker;
    const char* when;
};

std::vector<OilReading> oil_readings(const EngineReadings& g) {
    return {{g.oil_idle_kpa, g.maker_oil_idle_kpa, "at idle"},
            {g.oil_3000_kpa, g.maker_oil_3000_kpa, "at 3000 rpm"}};
}

std::string oil_words(const OilReading& oil) {
    std::string text = fmt::format("oil {}: {}", oil.when, oil.read->written);
    return oil.maker ? text + ", maker's minimum " + oil.maker->written : text;
}

/// Readings below the maker's figure.
std::vector<std::string> too_low(const EngineReadings& g) {
    std::vector<std::string> words;
    for (const auto& oil : oil_readings(g))
        if (oil.read && oil.maker && below(oil.read->value, oil.maker->value))
            words.push_back(oil_words(oil));
    return words;
}

bool rings_pointed_at(const Evidence& e) {
    return !wet_rises(e).empty() || !air_at_crankcase(e).empty();
}

}  // namespace

Matches slow_and_sagging(const Evidence& e) {
    if (!is_slow(e) || !sags(e)) return {};
    return {{.cylinders = {}, .evidence = {speed_words(e), battery_words(e)}}};
}

Matches slow_but_firm(const Evidence& e) {
    if (!is_slow(e) || !cranking_v(e) || sags(e)) return {};
    return {{.cylinders = {}, .evidence = {speed_words(e), battery_words(e)}}};
}

Matches slow_unexplained(const Evidence& e) {
    if (!is_slow(e) || cranking_v(e)) return {};
    return {{.cylinders = {}, .evidence = {speed_words(e), "battery voltage not measured"}}};
}

Matches sagging(const Evidence& e) {
    if (is_slow(e) || !sags(e)) return {};
    return {{.cylinders = {}, .evidence = {battery_words(e)}}};
}

/// A sender can be false both ways: without a mechanical gauge no more than a hint.
Matches oil_fine(const Evidence& e) {
    const auto& g = e.sheet.engine;
    Match match{.close = g.oil_gauge != OilGauge::mechanical};
    if (!too_low(g).empty() || !oil_below_usual(e).empty() || !oil_above_usual(e).empty()) return {};
    for (const auto& oil : oil_readings(g))
        if (oil.read && oil.maker) match.evidence.push_back(oil_words(oil));
    const bool usual = g.oil_3000_kpa && !g.maker_oil_3000_kpa &&
                       !below(g.oil_3000_kpa->value, usual_oil_least_kpa) &&
                       !below(usual_oil_most_kpa, g.oil_3000_kpa->value);
    if (usual)
        match.evidence.push_back("oil at 3000 rpm: " + g.oil_3000_kpa->written + "; usual 45 to 100 psi");
    if (match.evidence.empty()) return {};
    return {match};
}

Matches oil_low(const Evidence& e) {
    const auto& g = e.sheet.engine;
    const auto words = too_low(g);
    if (words.empty() || g.oil_gauge != OilGauge::mechanical) return {};
    return {{.cylinders = {}, .evidence = words}};
}

Matches oil_low_by_sender(const Evidence& e) {
    const auto& g = e.sheet.engine;
    auto words = too_low(g);
    if (words.empty() || g.oil_gauge == OilGauge::mechanical) return {};
    words.emplace_back(g.oil_gauge ? "read by the sender" : "how it was measured is not known");
    return {{.cylinders = {}, .evidence = words}};
}

Matches oil_below_usual(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (!g.oil_3000_kpa || g.maker_oil_3000_kpa || !below(g.oil_3000_kpa->value, usual_oil_least_kpa))
        return {};
    return {{.cylinders = {},
             .evidence = {"oil at 3000 rpm: " + g.oil_3000_kpa->written + "; usual 45 to 100 psi"}}};
}

Matches oil_above_usual(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (!g.oil_3000_kpa || !below(usual_oil_most_kpa, g.oil_3000_kpa->value)) return {};
    return {{.cylinders = {},
             .evidence = {"oil at 3000 rpm: " + g.oil_3000_kpa->written + "; usual 45 to 100 psi"}}};
}

Matches oil_idle_unjudged(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (!g.oil_idle_kpa || g.maker_oil_idle_kpa) return {};
    return {{.cylinders = {}, .evidence = {"oil at idle: " + g.oil_idle_kpa->written}}};
}

Matches burns_oil(const Evidence& e) {
    if (e.sheet.engine.uses_oil != true || !rings_pointed_at(e)) return {};
    Match match{.cylinders = {}, .evidence = {"uses more oil than the maker allows"}};
    for (const auto& list : {wet_rises(e), air_at_crankcase(e)})
        for (const auto& found : list)
            match.evidence.insert(match.evidence.end(), found.evidence.begin(), found.evidence.end());
    return {match};
}

/// Only where every cylinder was tested by leak-down and is tight.
Matches loses_oil(const Evidence& e) {
    const auto all = cylinders_of(e);
    if (e.sheet.engine.uses_oil != true || all.empty()) return {};
    if (!std::all_of(all.begin(), all.end(), [&](int c) { return leak_state(e, c) == State::sound; }))
        return {};
    Match match{.cylinders = {}, .evidence = {"uses more oil than the maker allows"}};
    for (const int c : all) match.evidence.push_back(leak_words(e, c));
    return {match};
}

/// Detonation is tied to compression only where a reading is too high.
Matches knocks(const Evidence& e) {
    if (e.sheet.engine.knocks != true) return {};
    Matches found = reads_high(e);
    for (const auto& match : one_stands_out(e))
        if (found.empty()) found.push_back(match);
    for (auto& match : found) match.evidence.insert(match.evidence.begin(), "knocks under load");
    return found;
}

}  // namespace evenstroke::findings::finds
