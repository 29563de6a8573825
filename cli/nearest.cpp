#include "nearest.hpp"

#include <algorithm>
#include <numeric>

namespace evenstroke::cli {

namespace {

/// Levenshtein's distance.
std::size_t letters_apart(const std::string& a, const std::string& b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 0; i < a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i + 1;
        for (std::size_t j = 0; j < b.size(); ++j) {
            const std::size_t replaced = diagonal + (a[i] != b[j]);
            diagonal = row[j + 1];
            row[j + 1] = std::min({replaced, row[j + 1] + 1, row[j] + 1});
        }
    }
    return row.back();
}

}  // namespace

std::string nearest(const std::string& word, const std::vector<std::string>& names) {
    std::string best;
    // A third of the letters wrong is still the same word.
    std::size_t fewest = std::max<std::size_t>(2, word.size() / 3) + 1;
    for (const std::string& name : names) {
        const std::size_t apart = letters_apart(word, name);
        if (apart >= fewest) continue;
        fewest = apart;
        best = name;
    }
    return best;
}

}  // namespace evenstroke::cli
