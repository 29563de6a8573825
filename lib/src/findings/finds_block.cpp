// Where weak cylinders stand in the block, not when they fire.
#include <fmt/format.h>

#include <algorithm>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke::findings::finds {

namespace {

/// Neighbours stand next to each other in one row of the block.
bool neighbours(const Evidence& e, int a, int b) {
    for (const auto& row : e.sheet.engine.rows)
        for (std::size_t i = 0; i + 1 < row.size(); ++i)
            if ((row[i] == a && row[i + 1] == b) || (row[i] == b && row[i + 1] == a)) return true;
    return false;
}

bool rows_tell(const Evidence& e, int cylinder) {
    for (const auto& row : e.sheet.engine.rows)
        if (std::find(row.begin(), row.end(), cylinder) != row.end()) return true;
    return false;
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
    const bool others_known =
        all.size() >= 2 && std::all_of(all.begin(), all.end(), [&](int c) {
            return c == weak.front() || gauge_state(e, c) == State::sound || recorded_as(e, c, Verdict::even);
        });
    if (!others_known) return {};
    return {{.cylinders = weak, .evidence = weak_words(e, weak)}};
}

Matches weak_apart(const Evidence& e) {
    Matches found;
    const auto weak = suspects(e);
    if (weak.size() < 2) return found;
    for (const int c : weak) {
        const bool alone = rows_tell(e, c) && std::none_of(weak.begin(), weak.end(), [&](int other) {
                               return neighbours(e, c, other);
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
            if (neighbours(e, weak[i], weak[k]))
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
