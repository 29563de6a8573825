#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "finders.hpp"
#include "measures.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::findings::finds {

namespace {

/// A reading this far above the median of the others is out of line (common practice, no published source).
constexpr double out_of_line_pct = 25;

std::vector<int> with_dry(const Evidence& e) {
    std::vector<int> found;
    for (const auto& readings : e.sheet.cylinders)
        if (readings.dry_kpa) found.push_back(readings.cylinder);
    return found;
}

double dry_kpa(const Evidence& e, int cylinder) {
    return readings_of(e, cylinder)->dry_kpa->value;
}

bool within_repeat(double value, double limit) {
    return std::abs(value - limit) < gauge_repeat_pct / 100 * limit;
}

bool close_to_ratio(const Evidence& e, int cylinder) {
    const auto& maker = e.sheet.engine.maker_ratio_pct;
    return within_repeat(*dry_ratio_pct(e, cylinder), maker ? maker->value : least_ratio_pct);
}

/// Empty for a diesel: no figure is common to them.
std::optional<double> plainly_high(const Evidence& e) {
    if (e.sheet.engine.fuel == Fuel::diesel) return std::nullopt;
    return plainly_high_kpa;
}

/// One match a cylinder with a dry reading for which `holds`.
template <class Holds>
Matches by_dry_cylinder(const Evidence& e, Holds holds) {
    Matches found;
    for (const int cylinder : with_dry(e))
        if (holds(cylinder))
            found.push_back({.cylinders = {cylinder}, .evidence = {dry_words(e, cylinder), limit_words(e)}});
    return found;
}

void add_recorded(const Evidence& e, int cylinder, Match& match) {
    for (const auto& r : e.recordings) {
        const auto before = match.evidence.size();
        for (const auto& c : r.cylinders)
            if (c.cylinder == cylinder) match.evidence.push_back(recorded_words(r, c));
        if (match.evidence.size() == before && all_even(r))
            match.evidence.push_back(r.path + ": " + r.headline);
    }
}

/// Every cylinder with a dry reading is below the floor, none is out of line with the others.
bool all_below_floor(const Evidence& e) {
    const auto dry = with_dry(e);
    if (dry.empty()) return false;
    const bool recorded_even =
        std::any_of(e.recordings.begin(), e.recordings.end(),
                    [](const RecordedEngine& r) { return r.outcome == Outcome::even; });
    if (dry.size() < 2 && !recorded_even) return false;
    return std::all_of(dry.begin(), dry.end(), [&](int c) { return below_floor(e, c); });
}

/// The cylinder that reads high while more than half of the others fall short of it.
std::optional<int> standing_out(const Evidence& e) {
    const auto dry = with_dry(e);
    const auto weak =
        std::count_if(dry.begin(), dry.end(), [&](int c) { return ratio_state(e, c) == State::weak; });
    if (dry.size() < 3 || 2 * static_cast<std::size_t>(weak) <= dry.size()) return std::nullopt;
    const int highest = *std::max_element(dry.begin(), dry.end(),
                                          [&](int a, int b) { return dry_kpa(e, a) < dry_kpa(e, b); });
    std::vector<double> others;
    for (const int c : dry)
        if (c != highest) others.push_back(dry_kpa(e, c));
    if (dry_kpa(e, highest) <= signal::median(others) * (1 + out_of_line_pct / 100)) return std::nullopt;
    return highest;
}

}  // namespace

Matches weak_by_gauge(const Evidence& e) {
    auto found = by_dry_cylinder(e, [&](int c) { return ratio_state(e, c) == State::weak; });
    for (auto& match : found) match.close = close_to_ratio(e, match.cylinders.front());
    return found;
}

Matches between_the_rules(const Evidence& e) {
    return by_dry_cylinder(e, [&](int c) { return ratio_state(e, c) == State::between; });
}

Matches below_the_floor(const Evidence& e) {
    if (all_below_floor(e)) return {};
    auto found =
        by_dry_cylinder(e, [&](int c) { return below_floor(e, c) && ratio_state(e, c) != State::weak; });
    for (auto& match : found) match.close = within_repeat(dry_kpa(e, match.cylinders.front()), *floor_kpa(e));
    return found;
}

Matches gauge_agrees(const Evidence& e) {
    Matches found = by_dry_cylinder(
        e, [&](int c) { return recorded_as(e, c, Verdict::weak) && gauge_state(e, c) == State::weak; });
    for (auto& match : found) add_recorded(e, match.cylinders.front(), match);
    return found;
}

Matches gauge_disagrees(const Evidence& e) {
    Matches found = by_dry_cylinder(e, [&](int c) {
        return recorded_as(e, c, Verdict::weak) && ratio_state(e, c) == State::sound && !below_floor(e, c);
    });
    for (auto& match : found) add_recorded(e, match.cylinders.front(), match);
    return found;
}

/// A recording that leaves two candidates, and a gauge that finds both sound.
Matches gauge_disagrees_with_both(const Evidence& e) {
    Matches found;
    for (const auto& r : e.recordings)
        for (const auto& c : r.cylinders) {
            const bool both = c.verdict == Verdict::weak && !c.possible.empty() &&
                              std::all_of(c.possible.begin(), c.possible.end(),
                                          [&](int one) { return gauge_state(e, one) == State::sound; });
            if (!both) continue;
            Match match{.cylinders = c.possible, .evidence = {recorded_words(r, c)}};
            std::sort(match.cylinders.begin(), match.cylinders.end());
            for (const int one : match.cylinders) match.evidence.push_back(dry_words(e, one));
            found.push_back(std::move(match));
        }
    return found;
}

Matches recording_misses(const Evidence& e) {
    Matches found = by_dry_cylinder(e, [&](int c) {
        return recorded_as(e, c, Verdict::even) && !recorded_as(e, c, Verdict::weak) &&
               ratio_state(e, c) == State::weak;
    });
    for (auto& match : found) add_recorded(e, match.cylinders.front(), match);
    return found;
}

Matches gauge_sound(const Evidence& e) {
    const auto dry = with_dry(e);
    const auto all = cylinders_of(e);
    if (dry.size() < 2 || dry.size() < all.size()) return {};
    if (!std::all_of(dry.begin(), dry.end(), [&](int c) { return gauge_state(e, c) == State::sound; }))
        return {};
    Match match{.cylinders = dry};
    for (const int c : dry) match.evidence.push_back(dry_words(e, c));
    match.evidence.push_back(limit_words(e));
    return {match};
}

/// Whether all are low together is settled by any one of them: against the maker's figure, else where it is
/// plainly high and not itself out of line.
Matches absolute_fine(const Evidence& e) {
    const auto high = e.sheet.engine.maker_lowest_kpa ? floor_kpa(e) : plainly_high(e);
    for (const int c : with_dry(e))
        if (high && c != standing_out(e) && !below(dry_kpa(e, c), *high))
            return {{.cylinders = {}, .evidence = {dry_words(e, c), limit_words(e)}}};
    return {};
}

/// Not below any limit that is known, and yet it may be little for this engine.
Matches absolute_unclear(const Evidence& e) {
    const auto dry = with_dry(e);
    const bool any_low = std::any_of(dry.begin(), dry.end(), [&](int c) { return below_floor(e, c); });
    if (dry.empty() || any_low || e.sheet.engine.maker_lowest_kpa || !absolute_fine(e).empty()) return {};
    Match match{.cylinders = {}, .evidence = {"the maker's minimum compression is not given"}};
    for (const int c : dry) match.evidence.push_back(dry_words(e, c));
    return {match};
}

Matches reads_high(const Evidence& e) {
    const auto& maker = e.sheet.engine.maker_highest_kpa;
    if (!maker) return {};
    auto found = by_dry_cylinder(e, [&](int c) { return below(maker->value, dry_kpa(e, c)); });
    for (auto& match : found) {
        match.evidence.back() = "maker's maximum " + maker->written;
        match.close = within_repeat(dry_kpa(e, match.cylinders.front()), maker->value);
    }
    return found;
}

Matches one_stands_out(const Evidence& e) {
    const auto highest = standing_out(e);
    if (!highest) return {};
    Match match{.cylinders = {*highest}};
    for (const int c : with_dry(e)) match.evidence.push_back(dry_words(e, c));
    return {match};
}

Matches all_low(const Evidence& e) {
    if (!all_below_floor(e)) return {};
    Match match;
    for (const int c : with_dry(e)) match.evidence.push_back(dry_words(e, c));
    match.evidence.push_back(limit_words(e));
    return {match};
}

}  // namespace evenstroke::findings::finds
