#include <fmt/core.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke::findings::finds {

namespace {

bool any_dry(const Evidence& e) {
    return highest_dry_kpa(e).has_value();
}

/// One match a cylinder for which `holds` is true of its appearance in a recording.
template <class Holds>
Matches by_recorded_cylinder(const Evidence& e, Holds holds) {
    Matches found;
    for (const int cylinder : cylinders_of(e)) {
        Match match{.cylinders = {cylinder}};
        for (const auto& recording : e.recordings)
            for (const auto& c : recording.cylinders)
                if (c.cylinder == cylinder && holds(c))
                    match.evidence.push_back(recorded_words(recording, c));
        if (!match.evidence.empty()) found.push_back(std::move(match));
    }
    return found;
}

bool reads_bad(const Evidence& e, int cylinder) {
    return gauge_state(e, cylinder) == State::weak || leak_state(e, cylinder) == State::weak;
}

bool reads_well(const Evidence& e, int cylinder) {
    return !reads_bad(e, cylinder) &&
           (gauge_state(e, cylinder) == State::sound || leak_state(e, cylinder) == State::sound);
}

/// Of two candidates the one that gauge or leak-down finds bad while it finds the other sound.
std::optional<int> the_bad_one(const Evidence& e, const RecordedCylinder& c) {
    if (c.possible.size() != 2) return std::nullopt;
    for (const auto& [one, other] :
         {std::pair(c.possible[0], c.possible[1]), std::pair(c.possible[1], c.possible[0])})
        if (reads_bad(e, one) && reads_well(e, other)) return one;
    return std::nullopt;
}

bool is_unnamed_weak(const RecordedCylinder& c) {
    return c.verdict == Verdict::weak && !c.cylinder && c.possible.empty();
}

/// Weak cylinders by the gauge; no value unless it was on every cylinder of the recording and each is plainly
/// weak or sound.
std::optional<std::vector<int>> gauge_weak(const Evidence& e, const RecordedEngine& r) {
    std::vector<int> weak;
    std::size_t known = 0;
    for (const auto& readings : e.sheet.cylinders) {
        const State state = gauge_state(e, readings.cylinder);
        if (state == State::weak) weak.push_back(readings.cylinder);
        if (state == State::weak || state == State::sound) ++known;
    }
    if (known < r.cylinders.size()) return std::nullopt;
    return weak;
}

/// As many cylinders weak by the gauge as the recording has without a name: they are those. Else empty.
std::vector<int> weak_by_gauge_instead(const Evidence& e, const RecordedEngine& r) {
    const auto count = std::count_if(r.cylinders.begin(), r.cylinders.end(), is_unnamed_weak);
    const auto weak = gauge_weak(e, r);
    if (!weak || count == 0 || weak->size() != static_cast<std::size_t>(count)) return {};
    return *weak;
}

std::vector<std::string> unnamed_words(const RecordedEngine& r) {
    std::vector<std::string> words;
    for (const auto& c : r.cylinders)
        if (is_unnamed_weak(c)) words.push_back(recorded_words(r, c));
    return words;
}

}  // namespace

Matches no_evidence(const Evidence& e) {
    const auto& g = e.sheet.engine;
    const bool measured =
        !e.recordings.empty() ||
        std::any_of(e.sheet.cylinders.begin(), e.sheet.cylinders.end(),
                    [](const auto& c) { return c.dry_kpa || c.wet_kpa || c.leak_down_pct || c.air_heard; }) ||
        g.oil_idle_kpa || g.oil_3000_kpa || g.vacuum_idle_kpa || g.needle_idle || g.vacuum_3000_kpa ||
        g.needle_3000 || g.battery_cranking_v;
    if (measured) return {};
    return {{.cylinders = {}, .evidence = {"no reading and no recording"}}};
}

Matches no_verdict(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings)
        if (r.outcome == Outcome::inconclusive)
            found.push_back({.cylinders = {}, .evidence = {r.path + ": " + r.headline}});
    return found;
}

Matches weak_recorded(const Evidence& e) {
    return by_recorded_cylinder(e, [](const RecordedCylinder& c) { return c.verdict == Verdict::weak; });
}

Matches low_recorded(const Evidence& e) {
    return by_recorded_cylinder(e, [](const RecordedCylinder& c) { return c.verdict == Verdict::low; });
}

Matches weak_unnamed(const Evidence& e) {
    Match match;
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders)
            if (is_unnamed_weak(c) && weak_by_gauge_instead(e, r).empty())
                match.evidence.push_back(recorded_words(r, c));
    if (match.evidence.empty()) return {};
    return {match};
}

Matches gauge_names(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings) {
        Match match{.cylinders = weak_by_gauge_instead(e, r), .evidence = unnamed_words(r)};
        if (match.cylinders.empty()) continue;
        for (const int cylinder : match.cylinders) match.evidence.push_back(dry_words(e, cylinder));
        found.push_back(std::move(match));
    }
    return found;
}

Matches gauge_finds_none(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings) {
        Match match{.cylinders = {}, .evidence = unnamed_words(r)};
        const auto weak = gauge_weak(e, r);
        if (match.evidence.empty() || !weak || !weak->empty()) continue;
        for (const auto& readings : e.sheet.cylinders)
            if (readings.dry_kpa) match.evidence.push_back(dry_words(e, readings.cylinder));
        found.push_back(std::move(match));
    }
    return found;
}

Matches half_turn_unknown(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders) {
            if (c.verdict != Verdict::weak || c.possible.empty() || the_bad_one(e, c)) continue;
            Match match{.cylinders = c.possible, .evidence = {recorded_words(r, c)}};
            std::sort(match.cylinders.begin(), match.cylinders.end());
            found.push_back(std::move(match));
        }
    return found;
}

/// Readings tell which of the two it is.
Matches half_turn_settled(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders) {
            const auto bad = c.verdict == Verdict::weak ? the_bad_one(e, c) : std::nullopt;
            if (!bad) continue;
            Match match{.cylinders = {*bad}, .evidence = {recorded_words(r, c)}};
            for (const int one : c.possible) {
                const auto* readings = readings_of(e, one);
                if (readings->dry_kpa) match.evidence.push_back(dry_words(e, one));
                if (readings->leak_down_pct) match.evidence.push_back(leak_words(e, one));
            }
            found.push_back(std::move(match));
        }
    return found;
}

/// The recording calls one cylinder weak, the gauge finds it sound and the one 360 degrees on weak instead.
Matches named_half_turn_off(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders) {
            if (c.verdict != Verdict::weak || !c.cylinder || !c.half_turn_on) continue;
            if (gauge_state(e, *c.cylinder) != State::sound || gauge_state(e, *c.half_turn_on) != State::weak)
                continue;
            Match match{
                .cylinders = {*c.cylinder, *c.half_turn_on},
                .evidence = {recorded_words(r, c), dry_words(e, *c.cylinder), dry_words(e, *c.half_turn_on)}};
            std::sort(match.cylinders.begin(), match.cylinders.end());
            found.push_back(std::move(match));
        }
    return found;
}

Matches recordings_disagree(const Evidence& e) {
    Matches found;
    for (const int cylinder : cylinders_of(e)) {
        if (!recorded_as(e, cylinder, Verdict::weak) || !recorded_as(e, cylinder, Verdict::even)) continue;
        Match match{.cylinders = {cylinder}};
        for (const auto& r : e.recordings)
            for (const auto& c : r.cylinders)
                if (c.cylinder == cylinder) match.evidence.push_back(recorded_words(r, c));
        found.push_back(std::move(match));
    }
    return found;
}

Matches leak_like(const Evidence& e) {
    return by_recorded_cylinder(e, [](const RecordedCylinder& c) { return c.loss == LossKind::leak; });
}

Matches charge_like(const Evidence& e) {
    return by_recorded_cylinder(e, [](const RecordedCylinder& c) { return c.loss == LossKind::charge; });
}

Matches relative_only(const Evidence& e) {
    const bool any_weak = std::any_of(e.recordings.begin(), e.recordings.end(),
                                      [](const auto& r) { return r.outcome == Outcome::weak; });
    if (any_weak || any_dry(e)) return {};
    Match match;
    for (const auto& r : e.recordings)
        if (all_even(r)) match.evidence.push_back(r.path + ": " + r.headline + " No absolute reading.");
    if (match.evidence.empty()) return {};
    return {match};
}

}  // namespace evenstroke::findings::finds
