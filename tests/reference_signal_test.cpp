// Peaks, autocorrelation and spectra against closed forms and published tables (references.md, section E).
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "evenstroke/engine.hpp"
#include "signal/fft.hpp"
#include "signal/peak.hpp"

using namespace evenstroke;

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
