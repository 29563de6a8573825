// Manifold vacuum, level and steadiness.
#include <fmt/core.h>

#include <set>

#include "finders.hpp"
#include "measures.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::findings::finds {

namespace {

// Common practice, no published source: steady about 16 to 26 inHg at idle near sea level; "3 to 9 inHg,
// fluctuating below normal" is a leak at the intake manifold. That sentence is read both ways in the trade:
// as the reading, and as what is missing to the normal 16; both lie between 3 and 13 inHg.
constexpr double usual_least_kpa = 16 * kpa_per_inhg;
constexpr double usual_most_kpa = 26 * kpa_per_inhg;
/// What 900 m of height take off it (1 inHg for each 300 m): where the gauge was read is not known.
constexpr double by_height_kpa = 3 * kpa_per_inhg;
constexpr double leak_least_kpa = 3 * kpa_per_inhg;
constexpr double leak_most_kpa = 13 * kpa_per_inhg;
/// Held at 3000 rpm a free exhaust keeps the vacuum of idle or more; half of it is falling towards zero.
constexpr double falling_share = 0.5;
constexpr double holding_share = 0.9;

double least_kpa(const EngineReadings& g) {
    return g.maker_vacuum_kpa ? g.maker_vacuum_kpa->value : usual_least_kpa;
}

bool is_low(const EngineReadings& g) {
    return g.vacuum_idle_kpa && below(g.vacuum_idle_kpa->value, least_kpa(g));
}

std::string idle_words(const EngineReadings& g) {
    std::string text =
        "vacuum at idle: " + (g.vacuum_idle_kpa ? g.vacuum_idle_kpa->written : "level not read");
    if (g.needle_idle == Needle::steady) text += ", steady";
    if (g.needle_idle == Needle::fluctuating) text += ", fluctuating";
    if (g.needle_idle == Needle::falling) text += ", falling";
    if (!g.needle_idle) text += ", needle not noted";
    if (g.needle_3000 == Needle::fluctuating) text += "; fluctuating at 3000 rpm";
    return text + (g.maker_vacuum_kpa ? "; maker's minimum " + g.maker_vacuum_kpa->written
                                      : "; usual 16 to 26 inHg near sea level, 1 inHg less for each 300 m");
}

std::string fast_words(const EngineReadings& g) {
    std::string text =
        "vacuum at 3000 rpm: " + (g.vacuum_3000_kpa ? g.vacuum_3000_kpa->written : "level not read");
    if (g.needle_3000 == Needle::steady) text += ", steady";
    if (g.needle_3000 == Needle::falling) text += ", falling";
    return g.vacuum_idle_kpa ? text + "; at idle " + g.vacuum_idle_kpa->written : text;
}

/// Fluctuating so far below the normal level that air leaks in at the manifold.
bool leaks_and_fluctuates(const EngineReadings& g) {
    return g.needle_idle == Needle::fluctuating && is_low(g) &&
           !below(g.vacuum_idle_kpa->value, leak_least_kpa) &&
           !below(leak_most_kpa, g.vacuum_idle_kpa->value);
}

/// A diesel has no throttle to make a vacuum.
Matches idle(bool holds, const EngineReadings& g) {
    if (!holds || g.fuel == Fuel::diesel) return {};
    return {{.cylinders = {}, .evidence = {idle_words(g)}}};
}

bool falls(const EngineReadings& g) {
    if (g.fuel == Fuel::diesel) return false;
    if (g.needle_3000 == Needle::falling) return true;
    return g.vacuum_3000_kpa && g.vacuum_idle_kpa &&
           below(g.vacuum_3000_kpa->value, falling_share * g.vacuum_idle_kpa->value);
}

bool fluctuates(const EngineReadings& g) {
    return g.needle_idle == Needle::fluctuating || g.needle_3000 == Needle::fluctuating;
}

bool read_at_idle(const EngineReadings& g) {
    return g.vacuum_idle_kpa || g.needle_idle;
}

bool read_at_3000(const EngineReadings& g) {
    return g.vacuum_3000_kpa || g.needle_3000;
}

/// Cylinders whose air comes out past a valve, ascending.
std::vector<int> leaking_valves(const Evidence& e) {
    std::set<int> cylinders;
    for (const auto& list : {air_at_intake(e), air_at_exhaust(e)})
        for (const auto& match : list) cylinders.insert(match.cylinders.begin(), match.cylinders.end());
    return {cylinders.begin(), cylinders.end()};
}

}  // namespace

Matches vacuum_normal(const Evidence& e) {
    const auto& g = e.sheet.engine;
    const bool high =
        g.vacuum_idle_kpa && !g.maker_vacuum_kpa && below(usual_most_kpa, g.vacuum_idle_kpa->value);
    return idle(g.vacuum_idle_kpa && !is_low(g) && !high && g.needle_idle == Needle::steady &&
                    g.needle_3000 != Needle::fluctuating,
                g);
}

Matches vacuum_fluctuates(const Evidence& e) {
    const auto& g = e.sheet.engine;
    return idle(fluctuates(g) && !leaks_and_fluctuates(g) && leaking_valves(e).empty(), g);
}

/// A valve that was heard to leak explains the needle.
Matches vacuum_agrees(const Evidence& e) {
    const auto& g = e.sheet.engine;
    const auto cylinders = leaking_valves(e);
    auto found = idle(fluctuates(g) && !leaks_and_fluctuates(g) && !cylinders.empty(), g);
    for (auto& match : found) match.cylinders = cylinders;
    return found;
}

Matches vacuum_low_steady(const Evidence& e) {
    const auto& g = e.sheet.engine;
    auto found = idle(is_low(g) && g.needle_idle == Needle::steady, g);
    for (auto& match : found)
        match.close =
            !g.maker_vacuum_kpa && !below(g.vacuum_idle_kpa->value, usual_least_kpa - by_height_kpa);
    return found;
}

Matches vacuum_low_fluctuating(const Evidence& e) {
    const auto& g = e.sheet.engine;
    return idle(leaks_and_fluctuates(g), g);
}

Matches vacuum_falls(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (!falls(g)) return {};
    return {{.cylinders = {}, .evidence = {fast_words(g)}}};
}

Matches vacuum_holds(const Evidence& e) {
    const auto& g = e.sheet.engine;
    const bool holds = g.fuel != Fuel::diesel && !falls(g) && g.vacuum_3000_kpa && g.vacuum_idle_kpa &&
                       !below(g.vacuum_3000_kpa->value, holding_share * g.vacuum_idle_kpa->value);
    if (!holds) return {};
    return {{.cylinders = {}, .evidence = {fast_words(g)}}};
}

/// What fits none of the pictures is not passed over.
Matches vacuum_unclear(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (g.fuel == Fuel::diesel || fluctuates(g)) return {};
    Match match;
    if (read_at_idle(g) && vacuum_normal(e).empty() && vacuum_low_steady(e).empty())
        match.evidence.push_back(idle_words(g));
    if (read_at_3000(g) && !falls(g) && vacuum_holds(e).empty()) match.evidence.push_back(fast_words(g));
    if (match.evidence.empty()) return {};
    return {match};
}

Matches vacuum_on_diesel(const Evidence& e) {
    const auto& g = e.sheet.engine;
    if (g.fuel != Fuel::diesel) return {};
    Match match;
    if (read_at_idle(g)) match.evidence.push_back(idle_words(g));
    if (read_at_3000(g)) match.evidence.push_back(fast_words(g));
    if (match.evidence.empty()) return {};
    return {match};
}

}  // namespace evenstroke::findings::finds
