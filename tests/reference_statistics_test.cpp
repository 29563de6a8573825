// Student's t, straight lines, deviations and Welch's test against tables and NIST's certified values
// (references.md, section D).
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include "evenstroke/engine.hpp"
#include "signal/statistics.hpp"
#include "support/skip.hpp"

using namespace evenstroke;

namespace {

/// Digits that agree: NIST's measure, -log10(|got - certified| / |certified|).
double agreeing_digits(double got, double certified) {
    const double relative = std::abs(got - certified) / std::abs(certified);
    return relative == 0 ? 16 : -std::log10(relative);
}

/// NIST's Statistical Reference Datasets as Debian's python3-scipy carries them.
const std::filesystem::path nist = "/usr/lib/python3/dist-packages/scipy/stats/tests/data";

using Rows = std::vector<std::pair<double, double>>;

/// The block of rows of two numbers that ends the file; nothing, and said, when there is no such file.
std::optional<Rows> nist_rows(const std::string& relative) {
    std::ifstream file(nist / relative);
    if (!file) {
        test::skipped("NIST " + relative, "python3-scipy does not carry it here");
        return std::nullopt;
    }
    Rows rows;
    for (std::string line; std::getline(file, line);) {
        std::istringstream words(line);
        double first = 0;
        double second = 0;
        std::string rest;
        if (words >> first >> second && !(words >> rest))
            rows.emplace_back(first, second);
        else if (line.find_first_not_of(" \t\r") != std::string::npos)
            rows.clear();
    }
    return rows;
}

std::vector<std::vector<double>> by_group(const Rows& rows) {
    std::map<int, std::vector<double>> groups;
    for (const auto& [group, value] : rows) groups[static_cast<int>(group)].push_back(value);
    std::vector<std::vector<double>> result;
    for (auto& [group, values] : groups) result.push_back(values);
    return result;
}

}  // namespace

TEST_CASE("statistics: Student's t at 97.5 % -> the table") {
    // D2: PRINTED to three decimals, pdfcoffee.com (reprint of the NIST/SEMATECH e-Handbook); further digits
    // COMPUTED.
    const double table[][2] = {{1, 12.7062047364}, {2, 4.3026527299}, {3, 3.1824463053},
                               {4, 2.7764451052},  {5, 2.5705818366}, {10, 2.2281388520},
                               {20, 2.0859634473}, {30, 2.0422724563}};
    for (const auto& row : table) {
        const double degrees = row[0], expected = row[1];
        CAPTURE(degrees);
        // The computed digits are scipy 1.10.1's, whose own quantile is up to 1e-9 off (its 12.7062047364 for
        // one degree of freedom should be 12.7062047362: see the closed forms below).
        CHECK(std::abs(signal::student_t_quantile(0.975, degrees) - expected) < 2e-9);
        CHECK(std::abs(signal::student_t_quantile(0.025, degrees) + expected) < 2e-9);
        // dP/dt is below 0.1 there.
        CHECK(std::abs(signal::student_t_tail(expected, degrees) - 0.05) < 2e-10);
    }
    // Closed forms: one degree of freedom is the Cauchy distribution; two are algebraic.
    CHECK(std::abs(signal::student_t_quantile(0.975, 1) - std::tan(pi * 0.475)) < 1e-12);
    CHECK(std::abs(signal::student_t_quantile(0.975, 2) - 0.95 / std::sqrt(2 * 0.975 * 0.025)) < 1e-13);
    // PRINTED statstodo.com, four decimals.
    CHECK(std::abs(signal::student_t_quantile(0.975, 10) - 2.2282) < 1e-4);
    // A trap: astarmathsandphysics.com prints 4.883 for df 19, two-tailed .001; correct is 3.883.
    CHECK(std::abs(signal::student_t_quantile(0.9995, 19) - 3.883) < 5e-4);
}

TEST_CASE("statistics: NIST Norris -> the certified line") {
    const auto rows = nist_rows("nist_linregress/Norris.dat");
    if (!rows) return;
    REQUIRE(rows->size() == 36);
    std::vector<double> x;
    std::vector<double> y;
    for (const auto& [first, second] : *rows) {  // the file's columns are y, then x
        y.push_back(first);
        x.push_back(second);
    }
    const auto line = signal::fit_line(x, y);
    REQUIRE(line);
    // D1 PRINTED, NIST StRD; digits that agree as references.md advises (8 for standard errors).
    CHECK(agreeing_digits(line->slope, 1.00211681802045) > 12);
    CHECK(agreeing_digits(line->slope_se, 4.29796848199937e-04) > 8);
    CHECK(agreeing_digits(line->residual_sd, 0.884796396144373) > 8);
}

TEST_CASE("statistics: NIST NumAcc1 to 4 -> mean and deviation where a sum of squares would lose them") {
    // NIST StRD; the series are given by their rule (from memory), so that nothing has to be kept. Certified
    // mean and standard deviation: 10000002, 1; 1.2, 0.1; 1000000.2, 0.1; 10000000.2, 0.1.
    const std::vector<double> first{10000001, 10000003, 10000002};
    CHECK(signal::mean(first) == 10000002);
    CHECK(signal::standard_deviation(first) == 1);
    for (const auto& row : {std::pair{0.0, 13.0}, {999999.0, 9.0}, {9999999.0, 8.0}}) {
        const double base = row.first, digits = row.second;
        CAPTURE(base);
        std::vector<double> values{base + 1.2};
        for (int i = 0; i < 500; ++i) {
            values.push_back(base + 1.1);
            values.push_back(base + 1.3);
        }
        CHECK(agreeing_digits(signal::mean(values), base + 1.2) > 13);
        // 0.1 beside the base is held to 16 less its digits.
        CHECK(agreeing_digits(signal::standard_deviation(values), 0.1) > digits);
    }
}

TEST_CASE("statistics: Welch's test of NIST AtmWtAg -> t squared is the certified F") {
    const auto rows = nist_rows("nist_anova/AtmWtAg.dat");
    if (!rows) return;
    const auto groups = by_group(*rows);
    REQUIRE(groups.size() == 2);
    // With two equally large groups Welch's t is the pooled one, and t squared is F (D1 PRINTED, NIST StRD).
    const auto welch = signal::welch_test(groups[0], groups[1]);
    REQUIRE(welch);
    CHECK(agreeing_digits(welch->t_ratio * welch->t_ratio, 15.9467335677930) > 9);
    CHECK(welch->degrees <= 46);
    CHECK(welch->degrees > 23);
}

TEST_CASE("statistics: Holm's correction of .01 .04 .03 .005 -> .03 .06 .06 .02") {
    // From memory: the example of the method's usual description.
    const auto corrected = signal::holm_corrected({0.01, 0.04, 0.03, 0.005});
    const double expected[] = {0.03, 0.06, 0.06, 0.02};
    for (std::size_t i = 0; i < 4; ++i) CHECK(std::abs(corrected[i] - expected[i]) < 1e-15);
    CHECK(signal::holm_corrected({0.9, 0.8}) == std::vector<double>{1.0, 1.0});
    CHECK(signal::holm_corrected({}).empty());
}

TEST_CASE("statistics: Welch's test of too little, or of what does not vary -> empty") {
    const std::vector<double> one{1};
    const std::vector<double> two{1, 2};
    const std::vector<double> same{3, 3};
    CHECK_FALSE(signal::welch_test(one, two));
    CHECK_FALSE(signal::welch_test({}, {}));
    CHECK_FALSE(signal::welch_test(same, same));
    CHECK(signal::welch_test(same, two));
}

TEST_CASE("statistics: too little to compare -> empty, not a number") {
    const std::vector<double> two{1, 2};
    CHECK_FALSE(signal::fit_line(two, two));
    const std::vector<double> same{4, 4, 4};
    const std::vector<double> y{1, 2, 3};
    CHECK_FALSE(signal::fit_line(same, y));
}

TEST_CASE("statistics: mean, deviation and median of a shifted series -> shifted and unchanged") {
    // Invariance; 1e9 + k keeps every k exact in double, so the deviation must not move by more than
    // rounding of the mean (1e-7 of 1).
    std::vector<double> small;
    std::vector<double> large;
    for (int k = 0; k < 101; ++k) {
        const double v = std::fmod(k * 37.0, 101.0);
        small.push_back(v);
        large.push_back(v + 1e9);
    }
    CHECK(signal::mean(small) == 50);
    CHECK(signal::mean(large) == 1e9 + 50);
    CHECK(std::abs(signal::standard_deviation(large) - signal::standard_deviation(small)) < 1e-7);
    // 0 … 100 each once: variance of a discrete uniform with n-1, n (n+1) / 12 = 858.5.
    CHECK(std::abs(signal::standard_deviation(small) - std::sqrt(858.5)) < 1e-12);
    CHECK(signal::median(small) == 50);
    CHECK(signal::median({4, 1, 3, 2}) == 2.5);
}
