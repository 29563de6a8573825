// Spectra, autocorrelation and Welch's test against scipy 1.10 (COMPUTED: an independent library, no
// publication). tests/reference/signal_values.py writes the expected values; ctest runs it first.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <span>
#include <sstream>
#include <string>
#include <vector>

#include "signal/fft.hpp"
#include "signal/statistics.hpp"
#include "support/skip.hpp"

using namespace evenstroke;

namespace {

const std::filesystem::path reference_folder = std::filesystem::path(EVENSTROKE_BINARY_DIR) / "reference";

struct Case {
    std::string name;
    std::vector<double> parameters;
    std::vector<std::vector<double>> columns;
};

std::vector<double> numbers(const std::string& line) {
    std::istringstream words(line);
    std::vector<double> result;
    for (double value = 0; words >> value;) result.push_back(value);
    return result;
}

Case load(const std::filesystem::path& path) {
    Case loaded{.name = path.stem().string(), .parameters = {}, .columns = {}};
    std::ifstream file(path);
    std::string line;
    std::getline(file, line);
    loaded.parameters = numbers(line);
    while (std::getline(file, line)) {
        const auto row = numbers(line);
        loaded.columns.resize(row.size());
        for (std::size_t i = 0; i < row.size(); ++i) loaded.columns[i].push_back(row[i]);
    }
    return loaded;
}

/// Every case whose name begins with `kind`; none, and said, when scipy could not be asked.
std::vector<Case> cases(const std::string& kind) {
    std::vector<Case> found;
    if (std::filesystem::exists(reference_folder))
        for (const auto& entry : std::filesystem::directory_iterator(reference_folder))
            if (entry.path().filename().string().starts_with(kind)) found.push_back(load(entry.path()));
    if (found.empty()) test::skipped("scipy's " + kind, "no reference values: run ctest -R reference_values");
    return found;
}

}  // namespace

TEST_CASE("signal: autocorrelation -> scipy.signal.correlate") {
    for (const Case& c : cases("autocorrelation")) {
        REQUIRE(c.columns.size() == 2);
        const std::vector<float> values(c.columns[0].begin(), c.columns[0].end());
        const auto lags = signal::autocorrelation(values);
        REQUIRE(lags.size() == c.columns[1].size());
        double worst = 0;
        // The unbiased estimate divides by n - lag: the last tenth magnifies the transform's single
        // precision.
        for (std::size_t lag = 0; lag < lags.size() * 9 / 10; ++lag)
            worst = std::max(worst, std::abs(static_cast<double>(lags[lag]) - c.columns[1][lag]));
        CHECK(worst < 2e-5);
    }
}

TEST_CASE("signal: spectrum -> scipy.fft") {
    for (const Case& c : cases("spectrum")) {
        REQUIRE(c.columns.size() == 2);
        const std::vector<float> values(c.columns[0].begin(), c.columns[0].end());
        const std::vector<double>& expected = c.columns[1];  // two-sided; the first half is ours
        const auto bins = signal::spectrum(values, values.size());
        REQUIRE(bins.size() == values.size() / 2 + 1);
        const double largest = *std::max_element(expected.begin(), expected.end());
        double worst = 0;
        for (std::size_t k = 0; k < bins.size(); ++k)
            worst = std::max(worst, std::abs(static_cast<double>(std::abs(bins[k])) - expected[k]));
        CHECK(worst < 1e-6 * largest);  // single precision: 6e-8, over log2(2000) stages
    }
}

TEST_CASE("statistics: Welch's test -> scipy.stats.ttest_ind with unequal variances") {
    for (const Case& c : cases("welch")) {
        REQUIRE(c.parameters.size() == 4);
        const auto first = static_cast<std::size_t>(c.parameters[0]);
        const std::span<const double> all = c.columns[0];
        const auto welch = signal::welch_test(all.first(first), all.subspan(first));
        REQUIRE(welch);
        CAPTURE(c.name);
        CHECK(std::abs(welch->t_ratio - c.parameters[1]) < 1e-10 * std::abs(c.parameters[1]));
        CHECK(std::abs(welch->degrees - c.parameters[2]) < 1e-10 * c.parameters[2]);
        // scipy's own tail is good to about 1e-9 of the value.
        CHECK(std::abs(welch->p - c.parameters[3]) < 1e-8 * c.parameters[3]);
    }
}
