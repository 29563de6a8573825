// Where weak cylinders stand in the block, not when they fire.
#include <fmt/core.h>

#include <algorithm>
#include <iterator>
#include <optional>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke::findings::finds {

namespace {

/// Those that stand next to it in its row of the block; no value when the rows do not tell.
std::optional<std::vector<int>> neighbours_of(const Evidence& e, int cylinder) {
    for (const auto& row : e.sheet.engine.rows) {
        const auto at = std::find(row.begin(), row.end(), cylinder);
        if (at == row.end()) continue;
        std::vector<int> found;
        if (at != row.begin()) found.push_back(*std::prev(at));
        if (std::next(at) != row.end()) found.push_back(*std::next(at));
        return found;
    }
    return std::nullopt;
}

std::vector<std::string> weak_words(const Evidence& e, const std::vector<int>& cylinders) {
    std::vector<std::string> words;
    for (const int c : cylinders) {
        const auto* readings = readings_of(e, c);
        if (readings != nullptr && readings->dry_kpa) words.push_back(dry_words(e, c));
        for (const auto& r : e.recordings)
            for (const auto& shown : r.cylinders)
                if (shown.cylinder == c) words.push_back(recorded_words(r, shown));
    }
    return words;
}

}  // namespace

/// A gasket between two cylinders lowers both: one alone, with the others known to be sound, is not that.
Matches one_weak(const Evidence& e) {
    const auto weak = suspects(e);
    if (weak.size() != 1) return {};
    const auto all = cylinders_of(e);
    const bool others_known = all.size() >= 2 && std::all_of(all.begin(), all.end(), [&](int c) {
                                  return c == weak.front() || compresses(e, c);
                              });
    if (!others_known) return {};
    return {{.cylinders = weak, .evidence = weak_words(e, weak)}};
}

/// Beside a neighbour that is half known a gasket between the two may still be it.
Matches weak_apart(const Evidence& e) {
    Matches found;
    const auto weak = suspects(e);
    if (weak.size() < 2) return found;
    for (const int c : weak) {
        const auto beside = neighbours_of(e, c);
        const bool alone = beside && std::all_of(beside->begin(), beside->end(), [&](int other) {
                               return !is_suspect(e, other) && compresses(e, other);
                           });
        if (alone) found.push_back({.cylinders = {c}, .evidence = weak_words(e, {c})});
    }
    return found;
}

Matches weak_side_by_side(const Evidence& e) {
    Matches found;
    const auto weak = suspects(e);
    for (std::size_t i = 0; i < weak.size(); ++i)
        for (std::size_t k = i + 1; k < weak.size(); ++k)
            if (const auto beside = neighbours_of(e, weak[i]);
                beside && std::find(beside->begin(), beside->end(), weak[k]) != beside->end())
                found.push_back(
                    {.cylinders = {weak[i], weak[k]}, .evidence = weak_words(e, {weak[i], weak[k]})});
    return found;
}

Matches rows_unknown(const Evidence& e) {
    const auto weak = suspects(e);
    if (weak.size() < 2 || !e.sheet.engine.rows.empty()) return {};
    return {{.cylinders = weak, .evidence = weak_words(e, weak)}};
}

}  // namespace evenstroke::findings::finds
