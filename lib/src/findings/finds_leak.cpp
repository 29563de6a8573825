#include <fmt/core.h>

#include <algorithm>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke::findings::finds {

namespace {

bool weak_when_cranked(const Evidence& e, int cylinder) {
    return recorded_as(e, cylinder, Verdict::weak) || ratio_state(e, cylinder) == State::weak;
}

std::string leak_limit_words(const Evidence& e) {
    if (const auto& maker = e.sheet.engine.maker_leak_down_pct) return "maker's maximum " + maker->written;
    return fmt::format("below {:g} % good, up to {:g} % acceptable, up to {:g} % poor", leak_good_pct,
                       leak_acceptable_pct, leak_fault_pct);
}

template <class Holds>
Matches by_leaking_cylinder(const Evidence& e, Holds holds) {
    Matches found;
    for (const auto& readings : e.sheet.cylinders)
        if (holds(readings.cylinder))
            found.push_back({.cylinders = {readings.cylinder},
                             .evidence = {leak_words(e, readings.cylinder), leak_limit_words(e)}});
    return found;
}

/// Air that says something: beside a loss that is not good, or beside no figure at all (then weaker).
Matches air_at(const Evidence& e, AirPath path) {
    auto found =
        by_leaking_cylinder(e, [&](int c) { return heard(e, c, path) && leak_state(e, c) != State::sound; });
    for (auto& match : found) match.close = leak_state(e, match.cylinders.front()) != State::weak;
    return found;
}

void add_weakness(const Evidence& e, Match& match) {
    const int cylinder = match.cylinders.front();
    const auto* readings = readings_of(e, cylinder);
    if (readings != nullptr && readings->dry_kpa) match.evidence.push_back(dry_words(e, cylinder));
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders)
            if (c.cylinder == cylinder) match.evidence.push_back(recorded_words(r, c));
}

}  // namespace

Matches leaks_badly(const Evidence& e) {
    auto found = by_leaking_cylinder(e, [&](int c) { return leak_state(e, c) == State::weak; });
    for (auto& match : found) {
        const auto* readings = readings_of(e, match.cylinders.front());
        match.close =
            !e.sheet.engine.maker_leak_down_pct && !below(leak_fault_pct, readings->leak_down_pct->value);
    }
    return found;
}

Matches leak_confirms(const Evidence& e) {
    auto found = by_leaking_cylinder(
        e, [&](int c) { return weak_when_cranked(e, c) && leak_state(e, c) == State::weak; });
    for (auto& match : found) add_weakness(e, match);
    return found;
}

Matches leaks_some(const Evidence& e) {
    return by_leaking_cylinder(e, [&](int c) { return leak_state(e, c) == State::between; });
}

Matches leaks_little(const Evidence& e) {
    return by_leaking_cylinder(e, [&](int c) { return leak_state(e, c) == State::sound; });
}

Matches air_at_intake(const Evidence& e) {
    return air_at(e, AirPath::intake);
}

Matches air_at_exhaust(const Evidence& e) {
    return air_at(e, AirPath::exhaust);
}

Matches air_at_crankcase(const Evidence& e) {
    return air_at(e, AirPath::crankcase);
}

/// Bubbles count at any loss: the coolant is no way out of a sound cylinder.
Matches air_in_coolant(const Evidence& e) {
    return by_leaking_cylinder(e, [&](int c) { return heard(e, c, AirPath::coolant); });
}

Matches air_at_neighbour(const Evidence& e) {
    return by_leaking_cylinder(e, [&](int c) { return heard(e, c, AirPath::neighbour); });
}

/// A large loss that is heard at one place only leaves by that place.
Matches air_at_one_place(const Evidence& e) {
    Matches found;
    for (auto& match : by_leaking_cylinder(e, [&](int c) { return leak_state(e, c) == State::weak; })) {
        const auto* readings = readings_of(e, match.cylinders.front());
        if (!readings->air_heard || readings->air_heard->size() != 1) continue;
        Causes others(Cause::rings, Cause::washed, Cause::intake_valve, Cause::exhaust_valve,
                      Cause::clearance, Cause::head_gasket, Cause::gasket_between);
        switch (readings->air_heard->front()) {
            case AirPath::intake:
                others = others.without(Causes(Cause::intake_valve, Cause::clearance));
                break;
            case AirPath::exhaust:
                others = others.without(Causes(Cause::exhaust_valve, Cause::clearance));
                break;
            case AirPath::crankcase:
                others = others.without(Causes(Cause::rings, Cause::washed));
                break;
            case AirPath::coolant:
                others = others.without(Causes(Cause::head_gasket));
                break;
            case AirPath::neighbour:
                others = others.without(Causes(Cause::gasket_between));
                break;
        }
        match.removes = others;
        found.push_back(std::move(match));
    }
    return found;
}

Matches weak_but_tight(const Evidence& e) {
    auto found = by_leaking_cylinder(
        e, [&](int c) { return weak_when_cranked(e, c) && leak_state(e, c) == State::sound; });
    for (auto& match : found) add_weakness(e, match);
    return found;
}

Matches leaks_but_compresses(const Evidence& e) {
    auto found = by_leaking_cylinder(e, [&](int c) {
        const bool alike = ratio_state(e, c) == State::sound || recorded_as(e, c, Verdict::even);
        return leak_state(e, c) == State::weak && alike && !is_suspect(e, c);
    });
    for (auto& match : found) add_weakness(e, match);
    return found;
}

/// A crank that does not stand at TDC of compression lets the air out past open valves: where all of it is
/// heard in the crankcase, worn rings in all are as likely.
Matches leaks_everywhere(const Evidence& e) {
    Match match;
    bool all_in_crankcase = true;
    for (const auto& readings : e.sheet.cylinders) {
        if (!readings.leak_down_pct) continue;
        if (!below(leak_fault_pct, readings.leak_down_pct->value)) return {};
        all_in_crankcase = all_in_crankcase && readings.air_heard == std::vector<AirPath>{AirPath::crankcase};
        match.cylinders.push_back(readings.cylinder);
        match.evidence.push_back(leak_words(e, readings.cylinder));
    }
    constexpr std::size_t several = 3;
    if (match.cylinders.size() < several || all_in_crankcase) return {};
    return {match};
}

}  // namespace evenstroke::findings::finds
