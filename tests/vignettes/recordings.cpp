// What recordings alone say.
#include "parts.hpp"

namespace evenstroke::test {

using enum FollowUpOutcome;

namespace {

RecordedEngine with_loss(LossKind kind) {
    auto r = recording({100, 98, 50, 99});
    r.cylinders[2].loss = kind;
    return r;
}

RecordedEngine unnamed(const std::vector<double>& pct = {100, 98, 50, 99}) {
    auto r = recording(pct);
    for (auto& c : r.cylinders) {
        c.cylinder.reset();
        c.half_turn_on.reset();
        c.label = "position 3";
    }
    return r;
}

RecordedEngine every_turn() {
    auto r = unnamed();
    for (std::size_t i = 0; i < 4; ++i)
        r.cylinders[i].possible = i % 2 == 0 ? std::vector{3, 2} : std::vector{1, 4};
    return r;
}

RecordedEngine without_verdict() {
    RecordedEngine r;
    r.path = "bad.csv";
    r.headline = "No verdict: nothing compresses.";
    return r;
}

}  // namespace

std::vector<Vignette> from_recordings() {
    return {
        {"nothing at all", {}, inconclusive, {"no-evidence"}, {}, {}, "repeat-recording"},
        {"an empty worksheet", {sheet(""), {}}, inconclusive, {"no-evidence"}, {}, {}, "repeat-recording"},
        {"a recording without verdict",
         {{}, {without_verdict()}},
         inconclusive,
         {"recording-no-verdict"},
         {"no-evidence"},
         {},
         "repeat-recording"},
        {"one weak cylinder, named",
         {{}, {recording({100, 98, 50, 99})}},
         suspect,
         {"weak-in-recording", "one-weak-alone"},
         {"rows-not-known"},
         {},
         "repeat-recording",
         {"3 rings", "3 lift", "3 reading"},
         {"3 gasket-between"}},
        {"one weak cylinder twice: the gauge is next",
         {{}, {recording({100, 98, 50, 99}), recording({99, 100, 51, 99}, "second.csv")}},
         suspect,
         {"weak-in-recording"},
         {"recordings-disagree"},
         {},
         "gauge-dry"},
        {"one low cylinder: nothing is condemned",
         {{}, {recording({100, 98, 84, 99})}},
         inconclusive,
         {"low-in-recording"},
         {"weak-in-recording"},
         {},
         "repeat-recording"},
        {"weak, but no names",
         {{}, {unnamed()}},
         suspect,
         {"weak-without-name"},
         {"weak-in-recording"},
         {},
         "repeat-with-sync"},
        {"weak, but no names, and the gauge finds which",
         {sheet(weak_3), {unnamed()}},
         suspect,
         {"gauge-names", "weak-by-gauge"},
         {"weak-without-name", "gauge-finds-none"},
         {"engine nothing-in-common"},
         "gauge-wet"},
        {"weak, but no names, and the gauge finds none",
         {sheet(even_dry), {unnamed()}},
         inconclusive,
         {"weak-without-name", "gauge-finds-none"},
         {"gauge-names"},
         {"engine reading", "engine nothing-in-common"},
         "repeat-with-sync"},
        {"weak, but no names, and the gauge was on two of four only",
         {sheet("dry,psi,,150,149,,\n"), {unnamed()}},
         suspect,
         {"weak-without-name"},
         {"gauge-names", "gauge-finds-none"},
         {"engine nothing-in-common"},
         "repeat-with-sync"},
        {"all alike without names, and the gauge finds one weak",
         {sheet(weak_3), {unnamed({100, 98, 97, 99})}},
         suspect,
         {"recording-contradicts", "weak-by-gauge"},
         {"relative-only"},
         {"3 reading", "engine nothing-in-common"},
         "repeat-recording"},
        {"a mark every turn",
         {{}, {every_turn()}},
         suspect,
         {"weak-half-turn-unknown"},
         {},
         {},
         "repeat-with-sync",
         {"2 rings", "3 rings", "2 reading", "3 lift"}},
        {"a mark every turn, and the gauge finds which",
         {sheet(weak_3), {every_turn()}},
         suspect,
         {"half-turn-settled", "weak-by-gauge"},
         {"weak-half-turn-unknown", "gauge-contradicts-both"},
         {"engine nothing-in-common"},
         "",
         {"3 rings"},
         {"3 reading"}},
        {"a mark every turn, and the leak-down test finds which",
         {sheet("leak_down,%,,6,6,60,6\n"), {every_turn()}},
         suspect,
         {"half-turn-settled", "leaks-badly"},
         {"weak-half-turn-unknown"},
         {},
         "gauge-wet",
         {"3 rings"},
         {"3 reading"}},
        {"a mark every turn, and the gauge finds neither",
         {sheet(even_dry), {every_turn()}},
         suspect,
         {"gauge-contradicts-both", "weak-half-turn-unknown"},
         {"half-turn-settled"},
         {"2 reading", "3 reading", "engine nothing-in-common"},
         "repeat-with-sync"},
        {"two recordings that disagree",
         {{}, {recording({100, 98, 50, 99}), recording({100, 98, 97, 99}, "second.csv")}},
         suspect,
         {"recordings-disagree", "weak-in-recording"},
         {},
         {"3 reading"},
         "gauge-dry"},
        {"loss like a leak",
         {{}, {with_loss(LossKind::leak)}},
         suspect,
         {"loss-like-a-leak"},
         {},
         {"3 rings", "3 washed", "3 intake-valve", "3 exhaust-valve", "3 clearance", "3 head-gasket"},
         "repeat-recording"},
        {"loss like low charge",
         {{}, {with_loss(LossKind::charge)}},
         suspect,
         {"loss-like-low-charge"},
         {},
         {"3 lift"},
         "repeat-recording"},
        {"even, and nothing absolute",
         {{}, {recording({100, 98, 97, 99})}},
         inconclusive,
         {"relative-only"},
         {"absolute-fine"},
         {},
         "gauge-one",
         {"engine worn-all", "engine valve-timing", "engine nothing-in-common"}},
        {"even, and one reading is fine",
         {sheet("dry,psi,,150,,,\n"), {recording({100, 98, 97, 99})}},
         sound,
         {"absolute-fine"},
         {"relative-only", "gauge-sound", "absolute-unclear"},
         {"engine nothing-in-common"},
         ""},
        {"even, and one reading is above 100 psi, which proves little",
         {sheet("dry,psi,,112,,,\n"), {recording({100, 98, 97, 99})}},
         inconclusive,
         {"absolute-unclear"},
         {"absolute-fine", "relative-only", "all-low"},
         {},
         "maker-figure",
         {"engine worn-all", "engine valve-timing", "engine throttle", "engine nothing-in-common"}},
        {"even, and the maker says that 112 psi is enough",
         {sheet("dry,psi,,112,,,\nmaker_lowest,psi,105,,,,\n"), {recording({100, 98, 97, 99})}},
         sound,
         {"absolute-fine"},
         {"absolute-unclear"},
         {"engine nothing-in-common"},
         ""},
        {"even, and one reading is low",
         {sheet("dry,psi,,80,,,\n"), {recording({100, 98, 97, 99})}},
         suspect,
         {"all-low"},
         {"relative-only", "weak-in-recording", "below-least-compression"},
         {},
         ""},
    };
}

}  // namespace evenstroke::test
