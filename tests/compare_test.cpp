// Two recordings of one engine, from hand-made cycles: which cylinder changed, and what is said to it.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "evenstroke/compare.hpp"
#include "evenstroke/render_followup.hpp"
#include "support/vignettes.hpp"

using namespace evenstroke;

namespace {

/// Cycles that scatter by about a point about these contributions: a fixed pattern, no chance.
ComparedRecording side(const std::vector<double>& pct, int cycles = 8, const std::string& path = "one.csv") {
    ComparedRecording r{.engine = test::recording(pct, path), .by_cycle_pct = {}, .anchored = true};
    r.engine.speed_rpm = 200;
    r.engine.cranking_v = 10.5;
    for (int k = 0; k < cycles; ++k) {
        auto& cycle = r.by_cycle_pct.emplace_back(pct.begin(), pct.end());
        for (std::size_t c = 0; c < pct.size(); ++c)
            *cycle[c] += std::sin(2.4 * k + 1.7 * static_cast<double>(c));
    }
    return r;
}

std::vector<int> changed(const Comparison& c) {
    std::vector<int> found;
    for (const auto& x : c.changes)
        if (x.beyond_chance) found.push_back(*x.cylinder);
    return found;
}

bool says(const Comparison& c, const std::string& code) {
    return std::any_of(c.findings.begin(), c.findings.end(),
                       [&](const Finding& f) { return f.code == code; });
}

bool warns(const Comparison& c, const std::string& code) {
    return std::any_of(c.confounders.begin(), c.confounders.end(),
                       [&](const Notice& n) { return n.code == code; });
}

}  // namespace

TEST_CASE("compare: the same twice -> unchanged, and how large a change would show") {
    const auto c = compare(side({100, 98, 50, 99}), side({100, 98, 50, 99}, 9));
    CHECK(c.outcome == CompareOutcome::unchanged);
    CHECK(changed(c).empty());
    CHECK(c.headline.find("would show") != std::string::npos);
}

TEST_CASE("compare: one cylinder repaired -> that one alone") {
    const auto c = compare(side({100, 98, 50, 99}), side({99, 97, 98, 100}), Between::repair);
    CHECK(c.outcome == CompareOutcome::changed);
    CHECK(changed(c) == std::vector{3});
    CHECK(says(c, "repair-helped"));
    CHECK(c.changes[2].change_pct->value == doctest::Approx(48).epsilon(0.05));
    CHECK(c.changes[2].change_pct->low > 40);
}

TEST_CASE("compare: the highest cylinder falls -> it, not all the others") {
    // Relative to the new highest the others would seem to rise.
    const auto c = compare(side({100, 90, 91, 92}), side({60, 98, 99, 100}), Between::time);
    CHECK(changed(c) == std::vector{1});
    CHECK(says(c, "getting-worse"));
}

TEST_CASE("compare: oil lifts the weak cylinder above all others -> it, not all the others") {
    const auto c = compare(side({100, 98, 50, 99}), side({83, 81, 100, 82}), Between::oil);
    CHECK(changed(c) == std::vector{3});
    CHECK(says(c, "oil-raises"));
    CHECK(!says(c, "oil-does-not-raise"));
    CHECK(c.next_tests.front().code == "run-warm");
}

TEST_CASE("compare: oil does not lift the weak cylinder -> look above the rings") {
    const auto c = compare(side({100, 98, 50, 99}), side({100, 98, 50, 99}), Between::oil);
    CHECK(c.outcome == CompareOutcome::unchanged);
    CHECK(says(c, "oil-does-not-raise"));
    CHECK(c.next_tests.front().code == "leak-down");
}

TEST_CASE("compare: a rise that the interval leaves open -> neither that oil helps nor that it does not") {
    auto a = side({100, 98, 50, 99});
    auto b = side({100, 98, 52, 99});
    for (auto* wide : {&a, &b}) wide->engine.cylinders[2].contribution_pct = Figure{50, 30, 70};
    const auto oiled = compare(a, b, Between::oil);
    CHECK(!says(oiled, "oil-does-not-raise"));
    CHECK(!says(oiled, "oil-raises"));
    CHECK(says(oiled, "oil-unclear"));
    const auto repaired = compare(a, b, Between::repair);
    CHECK(!says(repaired, "repair-did-not-help"));
    CHECK(says(repaired, "repair-unclear"));
}

TEST_CASE("compare: another limit of weak -> what a repair must reach is that") {
    auto a = side({100, 98, 50, 99});
    auto b = side({100, 98, 52, 99});
    for (auto* narrow : {&a, &b}) narrow->engine.cylinders[2].contribution_pct = Figure{50, 46, 54};
    CHECK(says(compare(a, b, Between::repair), "repair-did-not-help"));
    for (auto* side : {&a, &b}) side->engine.weak_below_pct = 40;  // it was not weak
    CHECK(!says(compare(a, b, Between::repair), "repair-did-not-help"));
}

TEST_CASE("compare: a cylinder that was a little low -> oil that did not raise it says nothing") {
    const auto c = compare(side({100, 98, 50, 90}), side({100, 98, 75, 90}), Between::oil);
    CHECK(c.findings.size() == 1);
    CHECK(says(c, "oil-raises"));
}

TEST_CASE("compare: two gasketed neighbours repaired -> both") {
    CHECK(changed(compare(side({100, 50, 52, 98}), side({100, 99, 98, 97}))) == std::vector{2, 3});
}

TEST_CASE("compare: first and second exchanged -> the change with the other sign") {
    const auto a = side({100, 98, 60, 99});
    const auto b = side({100, 97, 90, 99}, 6);
    const auto there = compare(a, b);
    const auto back = compare(b, a);
    CHECK(changed(there) == changed(back));
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(*there.changes[i].t_ratio == doctest::Approx(-*back.changes[i].t_ratio).epsilon(1e-9));
        CHECK(*there.changes[i].degrees == doctest::Approx(*back.changes[i].degrees).epsilon(1e-9));
    }
}

TEST_CASE("compare: a scale common to all cylinders of a recording -> makes no difference") {
    auto b = side({100, 97, 90, 99}, 6);
    const auto before = compare(side({100, 98, 60, 99}), b);
    for (auto& cycle : b.by_cycle_pct)
        for (auto& pct : cycle) *pct *= 0.8;
    const auto after = compare(side({100, 98, 60, 99}), b);
    for (std::size_t i = 0; i < 4; ++i)
        CHECK(*before.changes[i].t_ratio == doctest::Approx(*after.changes[i].t_ratio).epsilon(1e-9));
}

TEST_CASE("compare: a larger change -> never a smaller certainty") {
    double p_before = 1;
    bool flagged = false;
    for (double pct = 50; pct <= 95; pct += 5) {
        const auto c = compare(side({100, 98, 50, 99}), side({100, 98, pct, 99}));
        CHECK(*c.changes[2].p <= p_before * (1 + 1e-9));
        p_before = *c.changes[2].p;
        CHECK((!flagged || c.changes[2].beyond_chance));
        flagged = c.changes[2].beyond_chance;
    }
    CHECK(flagged);
}

TEST_CASE("compare: a wide interval of a contribution -> no change is claimed from its cycles alone") {
    auto a = side({100, 98, 60, 99});
    auto b = side({100, 98, 75, 99});
    CHECK(changed(compare(a, b)) == std::vector{3});
    a.engine.cylinders[2].contribution_pct = Figure{60, 40, 80};
    const auto c = compare(a, b);
    CHECK(changed(c).empty());
    CHECK(*c.changes[2].p_corrected < 0.05);
}

TEST_CASE("compare: many cylinders tested -> each p stands for all of them, by Holm's steps") {
    // Holm (1979): the smallest of n times n, the next times n - 1, …, never falling, at most 1.
    const auto c = compare(side({100, 98, 96, 99}), side({100, 97.2, 97.2, 99.3}, 9));
    std::vector<double> p, corrected;
    REQUIRE(c.changes.size() == 4);
    for (const Change& change : c.changes) {
        REQUIRE(change.p);
        p.push_back(*change.p);
        corrected.push_back(*change.p_corrected);
    }
    std::vector<std::size_t> rising{0, 1, 2, 3};
    std::sort(rising.begin(), rising.end(), [&](auto x, auto y) { return p[x] < p[y]; });
    double least = 0;
    for (std::size_t k = 0; k < rising.size(); ++k) {
        least = std::max(least, std::min(1.0, static_cast<double>(rising.size() - k) * p[rising[k]]));
        CHECK(corrected[rising[k]] == doctest::Approx(least));
    }
    CHECK(corrected[rising[0]] > 3.9 * p[rising[0]]);
}

TEST_CASE("compare: a neighbour moves a little beside a large change -> not proven; alone, it is") {
    // 4 points beside 48: within the 15 % that a change may spill into the others' figures.
    CHECK(changed(compare(side({100, 98, 50, 94}), side({100, 98, 98, 98}), Between::repair)) ==
          std::vector{3});
    CHECK(changed(compare(side({100, 98, 98, 94}), side({100, 98, 98, 98}), Between::repair)) ==
          std::vector{4});
}

TEST_CASE("compare: cycles without a usable event -> left out") {
    auto a = side({100, 98, 60, 99});
    a.by_cycle_pct[0][2].reset();
    const auto c = compare(a, side({100, 98, 60, 99}));
    CHECK(c.changes[2].first_cycles == 7);
    CHECK(c.changes[0].first_cycles == 8);
}

TEST_CASE("compare: a cylinder that one recording cannot tell -> no verdict unless another changed") {
    auto a = side({100, 98, 60, 99});
    a.engine.cylinders[2].contribution_pct.reset();
    for (auto& cycle : a.by_cycle_pct) cycle[2].reset();
    const auto c = compare(a, side({100, 98, 60, 99}));
    CHECK(c.outcome == CompareOutcome::inconclusive);
    CHECK(c.headline.find(c.changes[2].label) != std::string::npos);
    CHECK(!c.changes[2].change_pct);
    CHECK(c.changes[0].change_pct);
    CHECK(changed(compare(a, side({100, 70, 60, 99}))) == std::vector{2});
}

TEST_CASE("compare: other speed, battery, signal, few cycles -> named") {
    auto b = side({100, 98, 50, 99}, 3);
    b.engine.speed_rpm = 150;
    b.engine.cranking_v = 9.4;
    b.engine.quantity = Quantity::voltage;
    const auto c = compare(side({100, 98, 50, 99}), b);
    CHECK(warns(c, "speed-differs"));
    CHECK(warns(c, "battery-differs"));
    CHECK(warns(c, "quantity-differs"));
    CHECK(warns(c, "few-cycles"));
    CHECK(compare(side({100, 98, 50, 99}), side({100, 98, 50, 99})).confounders.empty());
}

TEST_CASE("compare: no mark, no verdict, another engine, one cycle -> inconclusive with its reason") {
    auto unmarked = side({100, 98, 50, 99});
    unmarked.anchored = false;
    auto silent = side({100, 98, 50, 99});
    silent.engine.cylinders.clear();
    silent.engine.headline = "No verdict: nothing compresses.";
    silent.engine.no_verdict = "nothing compresses.";
    const auto good = side({100, 98, 50, 99});
    for (const auto& other : {unmarked, silent, side({100, 98, 50}), side({100, 98, 50, 99}, 1)}) {
        const auto c = compare(good, other);
        CHECK(c.outcome == CompareOutcome::inconclusive);
        CHECK(c.headline.size() > 20);
        CHECK(c.headline.rfind("No verdict") == 0);  // once
        CHECK(c.headline == "No verdict: " + c.no_verdict.value_or(""));
        CHECK(c.headline.ends_with("."));
        CHECK(!c.headline.ends_with(".."));
        CHECK(!c.headline.starts_with("No verdict: one.csv"));  // the first letter is printed as a capital
        CHECK(!c.next_tests.empty());
        CHECK(!c.cautions.empty());
    }
}

TEST_CASE("compare: two cylinders -> each is measured by the other, or not at all") {
    const auto c = compare(side({100, 98}), side({100, 60}));
    // Only the ratio of two can be known: the one above the weak limit measures the other.
    CHECK(changed(c) == std::vector{2});
    CHECK(!c.changes[0].p);
}

TEST_CASE("compare: what does not vary at all -> nothing to test, no number") {
    auto a = side({100, 98, 50, 99});
    a.by_cycle_pct.assign(8, {100.0, 98.0, 50.0, 99.0});
    const auto c = compare(a, a);
    CHECK(c.outcome == CompareOutcome::inconclusive);
    CHECK(compare_json(a.engine, a.engine, c).find("nan") == std::string::npos);
}
