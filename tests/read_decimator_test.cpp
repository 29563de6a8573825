#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <vector>

#include "evenstroke/engine.hpp"
#include "read/decimator.hpp"
#include "read/samples.hpp"

using namespace evenstroke;
using namespace evenstroke::reading;

namespace {

/// Gain of the coefficients at `cycles` per input sample, dB.
double gain_db(const std::vector<double>& taps, double cycles) {
    std::complex<double> sum = 0;
    for (std::size_t i = 0; i < taps.size(); ++i)
        sum += taps[i] * std::polar(1.0, -2 * pi * cycles * static_cast<double>(i));
    return 20 * std::log10(std::abs(sum) + 1e-30);
}

std::vector<float> reduced(const std::vector<float>& in, int factor) {
    Decimator decimator(factor);
    std::vector<float> out;
    decimator.push(in, out);
    decimator.finish(out);
    return out;
}

}  // namespace

TEST_CASE("decimator: response -> flat to 0.8 of the kept half-rate, 80 dB down from it on") {
    // Kaiser's own formulae for ripple and width; evaluated here by a plain Fourier sum.
    for (const int factor : {2, 3, 40}) {
        CAPTURE(factor);
        const auto taps = low_pass(factor);
        const double half_rate = 0.5 / factor;
        for (double share = 0; share <= 0.8; share += 0.01)
            CHECK(std::abs(gain_db(taps, share * half_rate)) < 0.002);  // 1e-4 of amplitude is 0.0009 dB
        // The fitted length meets 80 dB within half a decibel (Oppenheim & Schafer 7.5.3).
        for (double share = 1; share * half_rate <= 0.5; share += 0.013)
            CHECK(gain_db(taps, share * half_rate) < -79.5);
        for (std::size_t i = 0; i < taps.size() / 2; ++i)  // symmetric: every frequency is delayed alike
            CHECK(std::abs(taps[i] - taps[taps.size() - 1 - i]) < 1e-15);
    }
}

TEST_CASE("decimator: a 2 kHz ripple from 1 MHz -> in place and in size; 40 kHz -> gone") {
    std::vector<float> ripple(200'000);
    std::vector<float> alias(ripple.size());
    for (std::size_t i = 0; i < ripple.size(); ++i) {
        ripple[i] = static_cast<float>(std::sin(2 * pi * 2e3 * static_cast<double>(i) / 1e6));
        alias[i] = static_cast<float>(std::sin(2 * pi * 40e3 * static_cast<double>(i) / 1e6));
    }
    const auto kept = reduced(ripple, 40);
    const auto gone = reduced(alias, 40);
    REQUIRE(kept.size() == 5000);
    for (std::size_t k = 30; k < kept.size() - 30; ++k) {  // the filter reaches 25 samples beyond an end
        CHECK(std::abs(static_cast<double>(kept[k]) -
                       std::sin(2 * pi * 2e3 * static_cast<double>(k) / 25e3)) < 3e-4);
        CHECK(std::abs(gone[k]) < 2e-4);
    }
}

TEST_CASE("decimator: constant -> constant to the ends; odd lengths -> ceil(n / factor)") {
    for (const std::size_t count : {1U, 2U, 39U, 40U, 41U, 1000U}) {
        std::vector<float> in(count, 3.25F);
        in[0] = 3.25F;
        const auto out = reduced(in, 40);
        CHECK(out.size() == (count + 39) / 40);
        for (const float value : out) CHECK(value == 3.25F);
    }
}

TEST_CASE("decimator: a two-level mark of one sample -> survives with both levels") {
    for (const std::size_t at : {20'000U, 20'013U, 20'039U}) {
        std::vector<float> in(40'000, 0.0F);
        in[at] = 5;
        const auto out = reduced(in, 40);
        std::size_t high = 0;
        for (std::size_t k = 0; k < out.size(); ++k) {
            CHECK((out[k] == 0 || out[k] == 5));
            if (out[k] == 5) {
                ++high;
                CHECK(std::abs(static_cast<double>(k) * 40 - static_cast<double>(at)) < 40);
            }
        }
        CHECK(high == 1);
    }
}

TEST_CASE("decimator: a two-level wheel -> edges within one kept sample") {
    std::vector<float> in(100'000);
    for (std::size_t i = 0; i < in.size(); ++i) in[i] = (i / 2003) % 2 == 1 ? 1.0F : 0.0F;
    const auto out = reduced(in, 40);
    REQUIRE(out.size() == in.size() / 40);
    for (std::size_t k = 0; k < out.size(); ++k) CHECK(out[k] == in[k * 40]);
}

TEST_CASE("decimator: gaps and clipped runs -> their kept samples are marked") {
    SampleStore store(1, 4, 1'000'000);
    for (int i = 0; i < 4000; ++i) {
        float value = static_cast<float>(i % 50);
        if (i >= 1000 && i < 1003) value = std::nanf("");
        if (i >= 2001 && i < 2400) value = std::numeric_limits<float>::infinity();
        store.push_row(std::span(&value, 1));
    }
    store.finish();
    const ChannelSamples& channel = store.channels[0];
    CHECK(channel.values.size() == 1000);
    REQUIRE(channel.gaps.size() == 1);
    CHECK(channel.gaps[0].first == 250);
    CHECK(channel.gaps[0].last >= 251);
    CHECK(channel.gaps[0].last <= 253);
    REQUIRE(channel.clipped.size() == 1);
    CHECK(channel.clipped[0].first == 500);
    CHECK(channel.clipped[0].last >= 600);
    CHECK(channel.clipped[0].last <= 602);
}

TEST_CASE("decimator: more values than allowed -> halved, each time in place") {
    SampleStore store(2, 1, 10'000);
    for (int i = 0; i < 100'000; ++i) {
        const float slow = static_cast<float>(std::sin(2 * pi * i / 5000.0));
        const float row[2] = {slow, -slow};
        store.push_row(row);
    }
    store.finish();
    CHECK(store.factor() == 32);
    REQUIRE(store.channels[0].values.size() == 3125);
    for (std::size_t k = 0; k < 3125; ++k)
        if (k > 60 && k < 3065)
            CHECK(std::abs(static_cast<double>(store.channels[1].values[k]) +
                           std::sin(2 * pi * static_cast<double>(k) * 32 / 5000.0)) < 1e-3);
}

TEST_CASE("decimator: coefficients -> those of scipy.signal.firwin") {
    // COMPUTED with scipy 1.10.1 by tests/scripts/low_pass.py: taps 0, 1 and 7 from the centre, and the last.
    const struct {
        int factor;
        std::size_t count;
        double tap[4];
    } rows[] = {
        {2, 103, {0.44999198868396462, 0.31394211837728558, -0.019259165512385008, 2.60940811010259e-06}},
        {40,
         2009,
         {0.022500071783055364, 0.022481257740174527, 0.021589286688384359, 8.136904527362741e-07}}};
    for (const auto& row : rows) {
        const auto taps = low_pass(row.factor);
        REQUIRE(taps.size() == row.count);
        const std::size_t centre = row.count / 2;
        const std::size_t offsets[] = {0, 1, 7, centre};
        for (std::size_t i = 0; i < 4; ++i)  // both in double; sums over thousands of terms
            CHECK(std::abs(taps[centre + offsets[i]] - row.tap[i]) < 1e-12);
    }
}
