// What must not change a verdict: how the recording was made and read. And what must: a bigger leak.
// Simulated.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <streambuf>

#include "evenstroke/analyse.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"

using namespace evenstroke;

namespace {

/// A gain or a shift changes the last bits, and with them where the fit stops: it stops when a step gains
/// less than 0.02 of chi square, 0.14 standard deviations, of which the intervals here have one to a
/// cylinder's point. Two fits: 0.14 * sqrt(2), and half as much again.
constexpr double same_points = 0.3;
/// Other samples of the same signal carry other noise: less than a standard deviation of these estimates.
constexpr double resampled_points = 1;

/// Takes half of the pressure.
constexpr double usual_leak_mm2 = 3;

SynthOptions leaky_four(double leak_mm2 = usual_leak_mm2, double lead_deg = 0) {
    SynthOptions o;
    o.engine.layout = make_layout(4, {}, {}, {});
    if (leak_mm2 > 0)
        o.engine.faults = {
            {.position = 2, .kind = FaultKind::exhaust_valve, .amount = leak_mm2, .neighbour = {}}};
    o.chain.sync_lead_deg = lead_deg;
    return o;
}

Contribution contribution(const Recording& recording, double lead_deg = 0) {
    AnalyseOptions options;
    options.layout = make_layout(4, {}, {}, {});
    options.trace.channel = "Clamp";
    options.trace.quantity = Quantity::current;
    options.reference = {.sync = "Sync", .sync_lead_deg = lead_deg, .wheel = {}, .wheel_lead_deg = {}};
    Contribution found = analyse(recording, options).contribution;
    INFO(found.inconclusive.value_or(""));
    REQUIRE(!found.inconclusive);
    return found;
}

std::vector<double> contributions(const Recording& recording, double lead_deg = 0) {
    std::vector<double> pct;
    for (const auto& c : contribution(recording, lead_deg).cylinders) pct.push_back(*c.contribution_pct);
    return pct;
}

double apart(const std::vector<double>& one, const std::vector<double>& other) {
    double most = 0;
    for (std::size_t i = 0; i < one.size(); ++i) most = std::max(most, std::abs(one[i] - other[i]));
    return most;
}

const Recording& base() {
    static const Recording recording = synthesise(leaky_four(), 5).recording;
    return recording;
}

const std::vector<double>& base_pct() {
    static const std::vector<double> pct = contributions(base());
    return pct;
}

/// The base recording with the clamp's values changed.
template <class Change>
Recording changed(const Change& change) {
    Recording r = base();
    for (Channel& channel : r.channels)
        if (channel.name == "Clamp")
            for (float& v : channel.values) v = static_cast<float>(change(static_cast<double>(v)));
    return r;
}

/// Linear interpolation at another rate; the ripple of compressions lies far below either.
Recording resampled(Recording r, double rate_hz) {
    const double step = r.rate_hz / rate_hz;
    for (Channel& channel : r.channels) {
        std::vector<float> values;
        const auto& old = channel.values;
        for (double at = 0; at + 1 < static_cast<double>(old.size()); at += step) {
            const auto low = static_cast<std::size_t>(at);
            const auto part = static_cast<float>(at - std::floor(at));
            values.push_back(old[low] * (1 - part) + old[low + 1] * part);
        }
        channel.values = values;
    }
    r.rate_hz = r.recorded_rate_hz = rate_hz;
    return r;
}

/// Hands out a text a few bytes at a time, as a pipe may.
class Pieces : public std::streambuf {
  public:
    Pieces(std::string text, std::size_t size) : text_(std::move(text)), size_(size) {}

  private:
    int_type underflow() override {
        if (at_ >= text_.size()) return traits_type::eof();
        const std::size_t count = std::min(size_, text_.size() - at_);
        setg(text_.data() + at_, text_.data() + at_, text_.data() + at_ + count);
        at_ += count;
        return traits_type::to_int_type(*gptr());
    }

    std::string text_;
    std::size_t size_;
    std::size_t at_ = 0;
};

}  // namespace

TEST_CASE("invariance: gain, offset and polarity of the clamp -> the same contributions" * test::once) {
    CHECK(*std::min_element(base_pct().begin(), base_pct().end()) < 95);  // there is something to see
    CHECK(apart(contributions(changed([](double a) { return 0.37 * a; })), base_pct()) < same_points);
    CHECK(apart(contributions(changed([](double a) { return a + 35; })), base_pct()) < same_points);
    CHECK(apart(contributions(changed([](double a) { return -a; })), base_pct()) < same_points);
}

TEST_CASE("invariance: another origin of time -> the same contributions" * test::once) {
    Recording later = base();
    later.start_s += 1000;
    CHECK(apart(contributions(later), base_pct()) < same_points);
}

TEST_CASE("invariance: 7 kHz instead of 10 kHz -> the same contributions within the noise" * test::once) {
    CHECK(apart(contributions(resampled(base(), 7000)), base_pct()) < resampled_points);
}

TEST_CASE("invariance: a mark 40 degrees early with its lead given -> as the mark at TDC" * test::once) {
    // The same engine and noise; the mark itself lies elsewhere, where the crank turns at another pace.
    const Recording early = synthesise(leaky_four(usual_leak_mm2, 40), 5).recording;
    CHECK(apart(contributions(early, 40), base_pct()) < resampled_points);
}

TEST_CASE("invariance: the mark on another cylinder -> the same contributions, rotated" * test::once) {
    // A lead of one firing interval: the mark at position 0's TDC now stands for position 1.
    std::vector<double> rotated = contributions(base(), 180);
    std::rotate(rotated.begin(), rotated.end() - 1, rotated.end());
    CHECK(apart(rotated, base_pct()) < resampled_points);
}

TEST_CASE("invariance: text read whole or in small pieces -> the very same contributions" * test::once) {
    const std::string text = recording_text(base(), TextDialect{});
    std::istringstream whole(text);
    Pieces few(text, 1009);
    std::istream pieces(&few);
    const auto from_whole = contributions(read_text(whole, "whole"));
    CHECK(apart(contributions(read_text(pieces, "pieces")), from_whole) == 0);
    CHECK(apart(from_whole, base_pct()) < same_points);  // five digits of text
}

TEST_CASE("monotone: a bigger leak -> never a better cylinder" * test::once) {
    // Steps of the truth are several points; the reading may stand still between them, not turn back by more
    // than the fit's own repeatability.
    double before = 101;
    for (const double leak_mm2 : {0.0, 2.5, 6.0, 14.0, 40.0}) {
        const double now = contributions(synthesise(leaky_four(leak_mm2), 5).recording)[2];
        CHECK_MESSAGE(now <= before + same_points, leak_mm2);
        before = now;
    }
    CHECK(before < 60);
}
