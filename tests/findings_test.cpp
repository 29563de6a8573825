// Verdicts from hand-made contributions. The limit of 75 % is PRINTED in service manuals (lowest at least 75
// % of highest); "more than chance" is the project's own definition (lib/src/findings/verdicts.hpp).
#include <doctest/doctest.h>

#include <algorithm>

#include "evenstroke/findings.hpp"
#include "evenstroke/render.hpp"

using namespace evenstroke;

namespace {

struct Reading {
    double value, margin;
};

Contribution contribution(const std::vector<Reading>& readings) {
    Contribution c;
    for (const auto& [value, margin] : readings)
        c.cylinders.push_back({.contribution_pct = value,
                               .low_pct = value - margin,
                               .high_pct = std::min(100.0, value + margin),
                               .simple_pct = value,
                               .events = 8});
    return c;
}

CrankAngle synced() {
    CrankAngle angle;
    angle.kind = ReferenceKind::sync;
    angle.channel = "Cyl1";
    return angle;
}

Findings judged(const std::vector<Reading>& readings) {
    const auto count = static_cast<int>(readings.size());
    return judge({}, {}, synced(), contribution(readings), make_layout(count, {}, {}, {}));
}

bool holds(const Findings& f, const std::string& code) {
    return std::any_of(f.findings.begin(), f.findings.end(),
                       [&](const Finding& x) { return x.code == code; });
}

using enum Verdict;

}  // namespace

TEST_CASE("findings: four alike -> even, and it says that it is relative only") {
    const auto f = judged({{99, 3}, {100, 3}, {97, 3}, {98, 3}});
    CHECK(f.verdicts == std::vector{even, even, even, even});
    CHECK(f.outcome == Outcome::even);
    CHECK(holds(f, "alike"));
}

TEST_CASE("findings: each word, reason and kind of mark -> the finding of its own, and no other") {
    using Codes = std::vector<std::string>;
    const auto codes = [](const Findings& f) {
        Codes all;
        for (const Finding& finding : f.findings) all.push_back(finding.code);
        return all;
    };
    CHECK(codes(judged({{100, 2}, {97, 2}, {98, 2}, {99, 2}})) == Codes{"alike"});
    CHECK(codes(judged({{100, 2}, {70, 2}, {98, 2}, {99, 2}})) == Codes{"weak-cylinder"});
    CHECK(codes(judged({{100, 2}, {78, 3}, {98, 2}, {99, 2}})) == Codes{"low-cylinder"});
    CHECK(codes(judged({{100, 2}, {88, 20}, {98, 2}, {99, 2}})) == Codes{"unsure-cylinder"});
    const EngineLayout layout = make_layout(4, {}, {}, {});
    Contribution sound = contribution({{100, 2}, {97, 2}, {98, 2}, {99, 2}});
    CrankAngle angle = synced();
    angle.once_per_turn = true;
    CHECK(codes(judge({}, {}, angle, sound, layout)) == Codes{"alike", "half-cycle-unknown"});
    CHECK(codes(judge({}, {}, {}, sound, layout)) == Codes{"alike", "positions-only"});
    sound.inconclusive = "nothing compresses";
    CHECK(codes(judge({}, {}, synced(), sound, layout)) == Codes{"no-verdict"});
}

TEST_CASE("findings: whole interval below 75 -> weak; reaching 75 -> not weak") {
    CHECK(judged({{100, 2}, {70, 4.9}, {98, 2}, {99, 2}}).verdicts[1] == weak);
    CHECK(judged({{100, 2}, {70, 5.0}, {98, 2}, {99, 2}}).verdicts[1] == low);
    CHECK(judged({{100, 2}, {70, 4.9}, {98, 2}, {99, 2}}).outcome == Outcome::weak);
}

TEST_CASE("findings: low with an interval that reaches below the limit -> inconclusive, and says which") {
    const auto f = judged({{100, 2}, {77, 3}, {98, 2}, {99, 2}});
    CHECK(f.verdicts == std::vector{even, low, even, even});
    CHECK(f.outcome == Outcome::inconclusive);
    CHECK(
        f.headline ==
        "No verdict: position 2 is lower than the others and may be weak: 77 % of the highest (74 to 80 %).");
    CHECK(std::any_of(f.next_tests.begin(), f.next_tests.end(),
                      [](const NextTest& t) { return t.code == "repeat-longer"; }));
}

TEST_CASE("findings: low with its whole interval above the limit -> even, and says which is low") {
    const auto f = judged({{100, 2}, {78, 3}, {98, 2}, {99, 2}});
    CHECK(f.verdicts[1] == low);
    CHECK(f.outcome == Outcome::even);  // 75 itself is no longer weak, as the rule is printed
    CHECK(f.headline ==
          "None is weak, but position 2 is lower than the others: 78 % of the highest (75 to 81 %).");
}

TEST_CASE("findings: several low, or low beside unsure, below the limit -> inconclusive, each named") {
    const auto two = judged({{100, 2}, {76, 3}, {77, 3}, {98, 2}, {99, 2}, {99, 2}});
    CHECK(two.outcome == Outcome::inconclusive);
    CHECK(two.headline ==
          "No verdict: positions 2 and 3 are lower than the others and may be weak: the intervals reach "
          "below 75 %.");
    const auto mixed = judged({{100, 2}, {76, 3}, {94, 25}, {98, 2}, {99, 2}, {99, 2}});
    REQUIRE(mixed.verdicts == std::vector{even, low, unsure, even, even, even});
    CHECK(mixed.outcome == Outcome::inconclusive);
    CHECK(mixed.headline ==
          "No verdict: position 2 is lower than the others and may be weak, and position 3 may be even or "
          "weak; the intervals are too wide to tell.");
}

TEST_CASE("findings: a weak one beside a low one that may be weak -> weak") {
    CHECK(judged({{100, 2}, {76, 3}, {50, 3}, {98, 2}}).outcome == Outcome::weak);
}

TEST_CASE("findings: interval too wide to tell even from weak -> unsure, inconclusive") {
    const auto f = judged({{100, 20}, {88, 20}, {98, 20}, {99, 20}});
    CHECK(f.verdicts[1] == unsure);
    CHECK(f.outcome == Outcome::inconclusive);
}

TEST_CASE("findings: below the others by more than chance -> low; within it, or by little -> even") {
    CHECK(judged({{100, 2}, {86, 2}, {98, 2}, {99, 2}}).verdicts[1] == low);
    CHECK(judged({{100, 8}, {88, 8}, {98, 8}, {99, 8}}).verdicts[1] == even);
    CHECK(judged({{100, 0.1}, {96, 0.1}, {99, 0.1}, {99, 0.1}}).verdicts[1] == even);
}

TEST_CASE("findings: the median of many fellows is known better than a single one") {
    // Error of a normal sample's median: sqrt(pi / 2 / n) of one's, text-book (n = 11: 0.38).
    std::vector<Reading> twelve(12, {97, 5});
    twelve[0] = {100, 0};
    twelve[4] = {84, 8.5};
    CHECK(judged(twelve).verdicts[4] == low);
    twelve[4] = {85, 8.5};
    CHECK(judged(twelve).verdicts[4] == even);
    CHECK(judged({{100, 5}, {89, 8.5}}).verdicts[1] == even);  // one fellow: as uncertain as that one is
}

TEST_CASE("findings: one reads high and the rest alike -> the rule's word, and the high one is questioned") {
    const auto f = judged({{100, 2}, {70, 2}, {70, 2}, {70, 2}});
    CHECK(holds(f, "most-weak"));
}

TEST_CASE(
    "findings: several weak -> neighbours only on a condition, whatever their numbers; none or no name -> no "
    "word") {
    const auto said = [](const std::vector<Reading>& readings, const CrankAngle& angle) {
        const auto f =
            judge({}, {}, angle, contribution(readings), make_layout({}, {1, 5, 4, 2, 6, 3, 7, 8}, {}, {}));
        for (const Finding& finding : f.findings)
            if (finding.code == "weak-neighbours") return finding.text;
        return std::string();
    };
    const Reading good{98, 2};
    const Reading bad{50, 2};
    const auto two = said({good, bad, bad, good, good, good, good, good}, synced());
    CHECK(two.starts_with("If cylinders 5 and 4 stand side by side in one bank, the head gasket"));
    const auto apart = said({bad, good, good, good, good, good, good, bad}, synced());
    CHECK(apart.starts_with("If cylinders 1 and 8 stand"));
    const auto three = said({bad, bad, bad, good, good, good, good, good}, synced());
    CHECK(three.starts_with("If any two of cylinders 1, 5 and 4 stand"));
    CHECK(said({good, bad, good, good, good, good, good, good}, synced()).empty());
    CHECK(said({good, bad, bad, good, good, good, good, good}, {}).empty());
}

TEST_CASE("findings: one cylinder only, or a stage that cannot tell -> inconclusive, no verdicts") {
    CHECK(judged({{100, 1}}).outcome == Outcome::inconclusive);
    Cranking none;
    none.no_cranking = "nothing turns";
    const auto f = judge({}, none, synced(), {}, make_layout(4, {}, {}, {}));
    CHECK(f.outcome == Outcome::inconclusive);
    CHECK(f.verdicts.empty());
    CHECK(f.headline == "No verdict: nothing turns.");
    CHECK(f.no_verdict == "nothing turns.");
    CHECK_FALSE(judged({{99, 3}, {100, 3}, {97, 3}, {98, 3}}).no_verdict);
    // However a reason begins, it goes on in lower case; an abbreviation stays one.
    none.no_cranking = "The sync is missing";
    CHECK(judge({}, none, synced(), {}, make_layout(4, {}, {}, {})).headline ==
          "No verdict: the sync is missing.");
    none.no_cranking = "TDC is not known";
    CHECK(judge({}, none, synced(), {}, make_layout(4, {}, {}, {})).headline ==
          "No verdict: TDC is not known.");
}

TEST_CASE("findings: a small hump beside sound compression -> humps of a load, dips of a wheel's speed") {
    auto c = contribution({{100, 2}, {97, 2}, {98, 2}, {99, 2}});
    c.cylinders[1].simple_pct = 60;
    const auto said = [&](Quantity quantity) {
        Trace trace;
        trace.quantity = quantity;
        const auto f = judge(trace, {}, synced(), c, make_layout(4, {}, {}, {}));
        for (const Finding& finding : f.findings)
            if (finding.code == "small-hump-not-weak") return finding.text + finding.evidence.at(0);
        return std::string();
    };
    CHECK(said(Quantity::current).find("load humps of position 2") != std::string::npos);
    CHECK(said(Quantity::wheel).find("dips of speed of position 2") != std::string::npos);
    CHECK(said(Quantity::wheel).find("hump") == std::string::npos);
}

TEST_CASE("findings: no reference -> positions, and a name is the cheapest next test") {
    const auto f = judge({}, {}, {}, contribution({{100, 2}, {50, 2}, {98, 2}, {99, 2}}),
                         make_layout({}, {1, 3, 4, 2}, {}, {}));
    REQUIRE_FALSE(f.next_tests.empty());
    CHECK(f.next_tests.front().code == "repeat-with-sync");
    CHECK(f.headline == "Position 2 is weak: 50 % of the highest (48 to 52 %).");
    CHECK(f.next_tests.front().text.find("Record again") == 0);
    CrankAngle offered;
    offered.notices.push_back({"sync-unused", "…"});
    const auto again = judge({}, {}, offered, contribution({{100, 2}, {50, 2}, {98, 2}, {99, 2}}),
                             make_layout({}, {1, 3, 4, 2}, {}, {}));
    CHECK(again.next_tests.front().code == "repeat-with-sync");
    CHECK(again.next_tests.front().text.find("Analyse this recording again") == 0);
}

TEST_CASE(
    "findings: unsure because the model misses the trace -> the layout is to be checked, not only cranked "
    "longer") {
    Contribution wide = contribution({{96, 60}, {70, 60}, {82, 60}, {100, 60}});
    const auto chance = judge({}, {}, synced(), wide, make_layout(4, {}, {}, {}));
    CHECK(chance.headline ==
          "No verdict: every cylinder may be even or weak; the intervals are too wide to tell.");
    wide.notices.push_back({"poor-fit", "…"});
    const auto misfit = judge({}, {}, synced(), wide, make_layout(4, {}, {}, {}));
    CHECK(misfit.outcome == Outcome::inconclusive);
    CHECK(misfit.headline.find("does not follow an engine of this layout") != std::string::npos);
    CHECK(std::any_of(misfit.next_tests.begin(), misfit.next_tests.end(), [](const NextTest& t) {
        return t.code == "repeat-longer" && t.text.find("firing intervals") != std::string::npos;
    }));
}

TEST_CASE("findings: what can hurt someone in the tests proposed -> stands under the report") {
    const auto warns = [](const Findings& f, const char* words) {
        return std::any_of(f.cautions.begin(), f.cautions.end(),
                           [&](const std::string& c) { return c.find(words) != std::string::npos; });
    };
    const auto weak_one = judged({{100, 2}, {50, 4}, {98, 2}, {99, 2}});
    const auto all_alike = judged({{99, 3}, {100, 3}, {97, 3}, {98, 3}});
    for (const auto& f : {weak_one, all_alike})  // both propose a gauge in a plug hole of a warm engine
        for (const char* words :
             {"fuel sprays", "burn", "clear of belts", "explosive gas", "Hybrids", "licensed"})
            CHECK_MESSAGE(warns(f, words), std::string(words));
    CHECK(warns(weak_one, "spin the crank"));
    CHECK(warns(weak_one, "scalds"));
    CHECK(!warns(all_alike, "spin the crank"));
}
