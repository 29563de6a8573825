// Filters and peaks against closed forms and published tables (references.md, section E).
#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numeric>
#include <vector>

#include "evenstroke/engine.hpp"
#include "signal/butterworth.hpp"
#include "signal/fft.hpp"
#include "signal/peak.hpp"
#include "signal/savitzky_golay.hpp"

using namespace evenstroke;
using signal::butterworth_low_pass;
using signal::butterworth_low_pass_two_way;
using signal::Section;

namespace {

std::vector<double> multiply(const std::vector<double>& a, const std::vector<double>& b) {
    std::vector<double> product(a.size() + b.size() - 1, 0.0);
    for (std::size_t i = 0; i < a.size(); ++i)
        for (std::size_t j = 0; j < b.size(); ++j) product[i + j] += a[i] * b[j];
    return product;
}

struct Polynomials {
    std::vector<double> b{1};
    std::vector<double> a{1};
};

/// The sections multiplied out; the padding zero of a first-order section is cut off.
Polynomials multiplied(const std::vector<Section>& sections, int order) {
    Polynomials p;
    for (const Section& s : sections) {
        p.b = multiply(p.b, {s.b0, s.b1, s.b2});
        p.a = multiply(p.a, {1, s.a1, s.a2});
    }
    p.b.resize(static_cast<std::size_t>(order) + 1);
    p.a.resize(static_cast<std::size_t>(order) + 1);
    return p;
}

void check_all(const std::vector<double>& got, const std::vector<double>& expected, double tolerance) {
    REQUIRE(got.size() == expected.size());
    for (std::size_t i = 0; i < got.size(); ++i) {
        CAPTURE(i);
        CHECK(std::abs(got[i] - expected[i]) <= tolerance);
    }
}

double gain(const std::vector<Section>& sections, double frequency_hz, double rate_hz) {
    const auto z = std::polar(1.0, -2 * pi * frequency_hz / rate_hz);
    std::complex<double> total = 1;
    for (const Section& s : sections)
        total *= (s.b0 + s.b1 * z + s.b2 * z * z) / (1.0 + s.a1 * z + s.a2 * z * z);
    return std::abs(total);
}

std::vector<double> weights(int window, int degree, int derivative = 0, double at = 0) {
    return signal::savitzky_golay_weights({.window = window, .degree = degree, .derivative = derivative}, at);
}

std::vector<double> over(std::vector<double> numerators, double denominator) {
    for (double& n : numerators) n /= denominator;
    return numerators;
}

}  // namespace

TEST_CASE("signal: Butterworth low-pass -> scipy's coefficients") {
    // E7 COMPUTED scipy 1.10.1: butter(n, Wn), Wn in units of half the rate. Rounding only: 1e-15 relative.
    const auto second = multiplied(butterworth_low_pass(2, 0.5, 2), 2);
    check_all(second.b, {.2928932188134525, .585786437626905, .2928932188134525}, 1e-15);
    check_all(second.a, {1, 0, .1715728752538099}, 1e-15);
    const auto third = multiplied(butterworth_low_pass(3, 0.5, 2), 3);
    check_all(third.b, {1. / 6, 1. / 2, 1. / 2, 1. / 6}, 1e-15);
    check_all(third.a, {1, 0, 1. / 3, 0}, 1e-15);
    const auto quarter = multiplied(butterworth_low_pass(2, 0.25, 2), 2);
    check_all(quarter.b, {.09763107293781749, .19526214587563498, .09763107293781749}, 1e-15);
    check_all(quarter.a, {1, -.9428090415820632, 1. / 3}, 1e-15);
    const auto tenth = multiplied(butterworth_low_pass(2, 0.1, 2), 2);
    check_all(tenth.b, {.020083365564211236, .04016673112842247, .020083365564211236}, 1e-15);
    check_all(tenth.a, {1, -1.5610180758007182, .6413515380575631}, 2e-15);
    const auto fourth = multiplied(butterworth_low_pass(4, 0.1, 2), 4);
    check_all(fourth.b,
              {.00041659920440659937, .0016663968176263975, .002499595226439596, .0016663968176263975,
               .00041659920440659937},
              1e-16);
    // scipy multiplies out from poles: both carry a few roundings of numbers near 4.
    check_all(fourth.a, {1, -3.180638548874719, 3.8611943489942133, -2.1121553551109686, .43826514226197977},
              1e-14);
}

TEST_CASE("signal: Butterworth sections -> the prototype's polynomials") {
    // E6 MEMORY table, COMPUTED: n=4 has s² + 0.7653668647 s + 1 and s² + 1.8477590650 s + 1; multiplied out
    // 1, 2.6131259298, 3.4142135624, 2.6131259298, 1. The bilinear transform is undone: with K = tan(…) the
    // section's a1, a2 give s² + d s + 1, d = (1 - a2) (1 + K²) / (K (1 + a2)).
    const double k = std::tan(pi * 0.05);
    std::vector<double> prototype{1};
    for (const Section& s : butterworth_low_pass(4, 0.05, 1))
        prototype = multiply(prototype, {1, (1 - s.a2) * (1 + k * k) / (k * (1 + s.a2)), 1});
    // The table has ten decimals.
    check_all(prototype, {1, 2.6131259298, 3.4142135624, 2.6131259298, 1}, 5e-11);
}

TEST_CASE("signal: Butterworth gain -> 1 at rest, 3 dB down at the cut-off, nothing at half the rate") {
    // Closed form: |H|² = 1 / (1 + (tan(pi f / rate) / tan(pi cutoff / rate))^(2 n)).
    for (int order = 1; order <= 8; ++order)
        for (const double cutoff_hz : {1.0, 60.0, 400.0, 2400.0}) {
            CAPTURE(order);
            CAPTURE(cutoff_hz);
            const auto sections = butterworth_low_pass(order, cutoff_hz, 5000);
            CHECK(std::abs(gain(sections, 0, 5000) - 1) < 1e-9);
            CHECK(std::abs(gain(sections, cutoff_hz, 5000) - std::sqrt(0.5)) < 1e-9);
            const double f_hz = 0.7 * cutoff_hz;
            const double ratio = std::tan(pi * f_hz / 5000) / std::tan(pi * cutoff_hz / 5000);
            CHECK(std::abs(gain(sections, f_hz, 5000) - 1 / std::sqrt(1 + std::pow(ratio, 2 * order))) <
                  1e-9);
            CHECK(gain(sections, 2500, 5000) < 1e-9);
        }
}

TEST_CASE("signal: cut-off for filtering both ways -> Winter's factor") {
    // E9 MEMORY (Winter, Biomechanics: 0.802 for second order), COMPUTED: n=2 0.802243, n=4 0.895680.
    // Far below half the rate prewarping does not matter: gain² of the two-way design at the asked cut-off is
    // one half power, and the single pass is 3 dB down at cutoff / factor.
    for (const auto& row : {std::pair{2, 0.802243}, std::pair{4, 0.895680}}) {
        const auto order = row.first;
        const auto factor = row.second;
        CAPTURE(order);
        const auto two_way = butterworth_low_pass_two_way(order, 10, 10000);
        CHECK(std::abs(std::pow(gain(two_way, 10, 10000), 2) - std::sqrt(0.5)) < 1e-6);
        // the factor has six decimals, the gain changes by at most n/2 of a relative change in frequency
        CHECK(std::abs(gain(two_way, 10 / factor, 10000) - std::sqrt(0.5)) < 2e-6 * order);
    }
    // Near half the rate the design still exists and is right at the asked cut-off.
    CHECK(std::abs(std::pow(gain(butterworth_low_pass_two_way(4, 480, 1000), 480, 1000), 2) -
                   std::sqrt(0.5)) < 1e-9);
}

TEST_CASE("signal: filtering both ways -> no delay, and a constant or nothing comes back") {
    const auto sections = butterworth_low_pass(4, 50, 1000);
    CHECK(signal::filter_two_way(sections, {}).empty());
    const std::vector<double> one{3};
    CHECK(signal::filter_two_way(sections, one) == one);
    const std::vector<double> constant(20, 7.25);
    for (const double v : signal::filter_two_way(sections, constant)) CHECK(std::abs(v - 7.25) < 1e-12);
    for (const double v : signal::filter(sections, constant)) CHECK(std::abs(v - 7.25) < 1e-12);
    // A symmetric pulse stays symmetric about its middle, to rounding.
    std::vector<double> pulse(401, 0.0);
    pulse[200] = 1;
    const auto out = signal::filter_two_way(sections, pulse);
    for (std::size_t i = 1; i <= 150; ++i) CHECK(std::abs(out[200 - i] - out[200 + i]) < 1e-12);
    // In single precision: the same within its resolution of values up to 1.
    std::vector<float> single(pulse.begin(), pulse.end());
    signal::filter_two_way(sections, single);
    REQUIRE(single.size() == out.size());
    for (std::size_t i = 0; i < out.size(); ++i)
        CHECK(std::abs(static_cast<double>(single[i]) - out[i]) < 1e-6);
}

TEST_CASE("signal: Savitzky-Golay smoothing weights -> the corrected tables") {
    // E1 PRINTED (Savitzky & Golay 1964, corrected by Steinier et al. 1972), E2 PRINTED in public code.
    check_all(weights(5, 2), over({-3, 12, 17, 12, -3}, 35), 1e-14);
    check_all(weights(5, 3), over({-3, 12, 17, 12, -3}, 35), 1e-14);
    check_all(weights(7, 2), over({-2, 3, 6, 7, 6, 3, -2}, 21), 1e-14);
    check_all(weights(9, 3), over({-21, 14, 39, 54, 59, 54, 39, 14, -21}, 231), 1e-14);
    check_all(weights(11, 2), over({-36, 9, 44, 69, 84, 89, 84, 69, 44, 9, -36}, 429), 1e-14);
    check_all(weights(13, 2), over({-11, 0, 9, 16, 21, 24, 25, 24, 21, 16, 9, 0, -11}, 143), 1e-14);
    check_all(weights(7, 4), over({5, -30, 75, 131, 75, -30, 5}, 231), 1e-14);
    check_all(weights(9, 5), over({15, -55, 30, 135, 179, 135, 30, -55, 15}, 429), 1e-14);
    // E5 COMPUTED: 25 points; a table often copied has 343 for the sixth from the middle, which does not sum.
    const auto long_window = weights(25, 2);
    const std::vector<double> half{467, 462, 447, 422, 387, 342, 287, 222, 147, 62, -33, -138, -253};
    for (std::size_t i = 0; i < half.size(); ++i) {
        CHECK(std::abs(long_window[12 + i] - half[i] / 5175) < 1e-14);
        CHECK(std::abs(long_window[12 - i] - half[i] / 5175) < 1e-14);
    }
    CHECK(std::abs(std::accumulate(long_window.begin(), long_window.end(), 0.0) - 1) < 1e-13);
}

TEST_CASE("signal: Savitzky-Golay at the ends and derivatives -> Gorry's and the textbook's weights") {
    // E3 PRINTED (quoting Gorry, Anal. Chem. 1990): five points, quadratic, evaluated at t = -2 … 2.
    check_all(weights(5, 2, 0, -2), over({31, 9, -3, -5, 3}, 35), 1e-14);
    check_all(weights(5, 2, 0, -1), over({9, 13, 12, 6, -5}, 35), 1e-14);
    check_all(weights(5, 2, 0, 1), over({-5, 6, 12, 13, 9}, 35), 1e-14);
    check_all(weights(5, 2, 0, 2), over({3, -5, -3, 9, 31}, 35), 1e-14);
    // E4 MEMORY, recomputed with scipy.
    check_all(weights(5, 2, 1), over({-2, -1, 0, 1, 2}, 10), 1e-14);
    check_all(weights(7, 2, 1), over({-3, -2, -1, 0, 1, 2, 3}, 28), 1e-14);
    // A cubic goes through a cubic filter unchanged, ends included; its slope too. Closed form.
    std::vector<double> cubic;
    for (int i = 0; i < 30; ++i) cubic.push_back(2 - 0.5 * i + 0.25 * i * i - 0.01 * i * i * i);
    check_all(signal::savitzky_golay(cubic, {.window = 7, .degree = 3}), cubic, 1e-11);
    const auto slope = signal::savitzky_golay(cubic, {.window = 7, .degree = 3, .derivative = 1});
    for (int i = 0; i < 30; ++i)
        CHECK(std::abs(slope[static_cast<std::size_t>(i)] - (-0.5 + 0.5 * i - 0.03 * i * i)) < 1e-11);
    // Fewer values than the window: nothing.
    CHECK(signal::savitzky_golay(std::vector<double>{1, 2, 3}, {.window = 5, .degree = 2}).empty());
}

TEST_CASE("signal: peak of a parabola -> exact; of a sampled cosine -> the known bias") {
    // E10 PRINTED, J. O. Smith, "Quadratic Interpolation of Spectral Peaks".
    const auto peak = signal::parabolic_peak(1, 3, 2);
    CHECK(std::abs(peak.offset - 1. / 6) < 1e-15);
    CHECK(std::abs(peak.value - 3.0416667) < 5e-8);  // seven decimals printed
    CHECK(std::abs(peak.curvature + 1.5) < 1e-15);
    // E11 COMPUTED: cosine of P samples a period whose true top lies d samples after the middle one.
    const double cosines[][3] = {{36, .1, .099756153},
                                 {36, .25, .249523431},
                                 {36, .4, .399633559},
                                 {72, .25, .249880971},
                                 {180, .25, .249980960}};
    for (const auto& row : cosines) {
        const double period = row[0], truth = row[1], expected = row[2];
        CAPTURE(period);
        CAPTURE(truth);
        const auto at = [&](double i) { return std::cos(2 * pi * (i - truth) / period); };
        CHECK(std::abs(signal::parabolic_peak(at(-1), at(0), at(1)).offset - expected) < 5e-10);
    }
    // E11, Gaussian of sigma 1.5 samples: biased as it stands, exact in its logarithm.
    const double gaussians[][2] = {{.1, .089685486}, {.25, .229406240}, {.4, .383502293}};
    for (const auto& row : gaussians) {
        const double truth = row[0], expected = row[1];
        const auto log_at = [&](double i) { return -(i - truth) * (i - truth) / (2 * 1.5 * 1.5); };
        const auto at = [&](double i) { return std::exp(log_at(i)); };
        CHECK(std::abs(signal::parabolic_peak(at(-1), at(0), at(1)).offset - expected) < 5e-10);
        CHECK(std::abs(signal::parabolic_peak(log_at(-1), log_at(0), log_at(1)).offset - truth) < 1e-13);
    }
}

TEST_CASE("signal: peak of a straight line, or at the end of the values -> the sample itself") {
    const auto line = signal::parabolic_peak(1, 2, 3);
    CHECK(line.offset == 0);
    CHECK(line.value == 2);
    const std::vector<double> values{1, 3, 2};
    CHECK(signal::parabolic_peak(values, 0).value == 1);
    CHECK(signal::parabolic_peak(values, 2).value == 2);
    CHECK(std::abs(signal::parabolic_peak(values, 1).offset - 1. / 6) < 1e-15);
}

TEST_CASE("signal: autocorrelation of a cosine -> the cosine; of a constant -> nothing") {
    // Closed form for whole periods, unbiased: cos(2 pi lag / period) plus an end term that the unbiased
    // estimate of n - lag products leaves: at most 1 / (2 (n - lag) sin(2 pi / period)) of 1/2.
    const std::size_t count = 2000;
    const double period = 50;
    std::vector<float> values;
    for (std::size_t i = 0; i < count; ++i)
        values.push_back(static_cast<float>(40 + std::cos(2 * pi * static_cast<double>(i) / period)));
    const auto lags = signal::autocorrelation(values);
    REQUIRE(lags.size() == count);
    for (std::size_t lag = 0; lag <= 1000; ++lag) {
        CAPTURE(lag);
        const double end_term =
            1 / (static_cast<double>(count - lag) * std::sin(2 * pi / period)) + 1e-5;  // single precision
        CHECK(std::abs(static_cast<double>(lags[lag]) -
                       std::cos(2 * pi * static_cast<double>(lag) / period)) < end_term);
    }
    CHECK(signal::autocorrelation(std::vector<float>(100, 3.0F)).empty());
    CHECK(signal::autocorrelation(std::vector<float>{1.0F}).empty());
}

TEST_CASE("signal: spectrum of a cosine -> one bin, half the length high") {
    const std::size_t length = 1000;
    std::vector<float> values;
    for (std::size_t i = 0; i < length; ++i)
        values.push_back(static_cast<float>(std::cos(2 * pi * 40 * static_cast<double>(i) / 1000)));
    const auto bins = signal::spectrum(values, length);
    REQUIRE(bins.size() == length / 2 + 1);
    for (std::size_t k = 0; k < bins.size(); ++k) {
        CAPTURE(k);
        // single precision over a sum of 1000 values
        CHECK(std::abs(static_cast<double>(std::abs(bins[k])) - (k == 40 ? 500.0 : 0.0)) < 1e-2);
    }
    CHECK(signal::fast_length(1) >= 2);
    CHECK(signal::fast_length(1001) >= 1001);
    CHECK(signal::fast_length(1001) % 2 == 0);
}
