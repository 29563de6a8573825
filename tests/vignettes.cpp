// The rules come from the trade (common practice, no published source) where no other source is named:
// wet reading rises -> rings, does not -> look above; air at the throttle body -> intake valve, tailpipe ->
// exhaust valve, oil filler -> rings, bubbles -> head gasket; two adjacent low -> head gasket (PRINTED, a
// maker's service pages, references.md G).
#include <algorithm>
#include <sstream>

#include "findings/verdicts.hpp"
#include "support/vignettes.hpp"

namespace evenstroke::test {

Worksheet sheet(const std::string& rows) {
    return parse_worksheet("quantity,unit,engine,1,2,3,4\n" + rows, "sheet.csv");
}

RecordedEngine recording(const std::vector<double>& contribution_pct, const std::string& path) {
    constexpr double margin = 2;
    constexpr int partner_of[] = {4, 3, 2, 1};  // 1-3-4-2: 1 and 4, 2 and 3 fire 360 degrees apart
    std::vector<CylinderContribution> cylinders;
    for (const double pct : contribution_pct)
        cylinders.push_back({.contribution_pct = pct,
                             .low_pct = pct - margin,
                             .high_pct = std::min(100.0, pct + margin),
                             .simple_pct = {},
                             .events = 8});
    const auto words = findings::verdicts(cylinders, 75);
    RecordedEngine r;
    r.path = path;
    r.headline = "All cylinders compress alike.";
    r.outcome = Outcome::even;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (words[i] == Verdict::weak) r.outcome = Outcome::weak;
        r.cylinders.push_back(
            {.cylinder = static_cast<int>(i) + 1,
             .possible = {},
             .half_turn_on = i < 4 ? std::optional(partner_of[i]) : std::nullopt,
             .label = "cylinder " + std::to_string(i + 1),
             .contribution_pct = Figure{contribution_pct[i], *cylinders[i].low_pct, *cylinders[i].high_pct},
             .verdict = words[i],
             .loss = {}});
    }
    return r;
}

namespace {

using enum FollowUpOutcome;

RecordedEngine cranked(double speed_rpm, std::optional<double> volts,
                       const std::vector<double>& pct = {100, 98, 97, 99}) {
    auto r = recording(pct);
    r.speed_rpm = speed_rpm;
    r.resting_v = volts ? std::optional(12.5) : std::nullopt;
    r.cranking_v = volts;
    return r;
}

RecordedEngine with_loss(LossKind kind) {
    auto r = recording({100, 98, 50, 99});
    r.cylinders[2].loss = kind;
    return r;
}

RecordedEngine unnamed() {
    auto r = recording({100, 98, 50, 99});
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

const char* const even_dry = "dry,psi,,150,148,149,150\n";
const char* const weak_3 = "dry,psi,,150,150,70,148\n";
const char* const all_100_low = "dry,psi,,80,82,79,81\n";

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
         "repeat-recording"},
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
        {"a mark every turn",
         {{}, {every_turn()}},
         suspect,
         {"weak-half-turn-unknown"},
         {},
         {},
         "repeat-recording"},
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
         "gauge-one"},
        {"even, and one reading is fine",
         {sheet("dry,psi,,150,,,\n"), {recording({100, 98, 97, 99})}},
         inconclusive,
         {"absolute-fine"},
         {"relative-only", "gauge-sound"},
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

// 75 % and 70 % with 100 psi: PRINTED (references.md G), with the worked vector 150 psi -> 105 psi.
std::vector<Vignette> from_the_gauge() {
    return {
        {"all read alike and high",
         {sheet(even_dry), {}},
         sound,
         {"gauge-sound", "absolute-fine"},
         {"weak-by-gauge"},
         {"engine nothing-in-common"},
         ""},
        {"105 of 150 psi passes the 70 % rule",
         {sheet("dry,psi,,150,150,105,150\n"), {}},
         inconclusive,
         {"between-published-limits"},
         {"weak-by-gauge", "below-least-compression"},
         {"engine nothing-in-common"},
         ""},
        {"104 of 150 psi fails both",
         {sheet("dry,psi,,150,150,104,150\n"), {}},
         suspect,
         {"weak-by-gauge"},
         {"between-published-limits"},
         {"engine nothing-in-common"},
         ""},
        {"the maker's 80 % wins",
         {sheet("dry,psi,,150,150,115,150\nmaker_ratio,%,80,,,,\n"), {}},
         suspect,
         {"weak-by-gauge"},
         {"between-published-limits"},
         {"engine nothing-in-common"},
         ""},
        {"the maker's 60 % wins",
         {sheet("dry,psi,,200,200,130,200\nmaker_ratio,%,60,,,,\n"), {}},
         sound,
         {"gauge-sound"},
         {"weak-by-gauge", "between-published-limits"},
         {"engine nothing-in-common"},
         ""},
        {"one below 100 psi though above 75 %",
         {sheet("dry,psi,,115,116,95,115\n"), {}},
         suspect,
         {"below-least-compression"},
         {"weak-by-gauge", "all-low"},
         {"engine nothing-in-common"},
         ""},
        {"the maker's least compression wins",
         {sheet("dry,psi,,150,150,118,150\nmaker_lowest,psi,125,,,,\n"), {}},
         suspect,
         {"below-least-compression"},
         {"weak-by-gauge"},
         {"engine nothing-in-common"},
         ""},
        {"gauge and recording agree",
         {sheet(weak_3), {recording({100, 98, 48, 99})}},
         suspect,
         {"gauge-confirms", "weak-by-gauge", "weak-in-recording", "one-weak-alone"},
         {"gauge-contradicts"},
         {"engine nothing-in-common"},
         ""},
        {"the gauge finds nothing",
         {sheet(even_dry), {recording({100, 98, 48, 99})}},
         suspect,
         {"gauge-contradicts"},
         {"gauge-confirms", "weak-by-gauge"},
         {"3 reading", "engine nothing-in-common"},
         ""},
        {"the gauge finds the one 360 degrees on",
         {sheet("dry,psi,,150,70,149,150\n"), {recording({100, 98, 48, 99})}},
         suspect,
         {"named-half-turn-off", "gauge-contradicts", "recording-contradicts"},
         {"gauge-confirms"},
         {"2 reading", "3 reading", "engine nothing-in-common"},
         "repeat-with-sync"},
        {"the recording misses a weak one",
         {sheet(weak_3), {recording({100, 98, 97, 99})}},
         suspect,
         {"recording-contradicts"},
         {"gauge-confirms"},
         {"3 reading", "engine nothing-in-common"},
         ""},
        {"above the maker's highest",
         {sheet("dry,psi,,150,150,210,150\nmaker_highest,psi,185,,,,\n"), {}},
         suspect,
         {"reads-high"},
         {},
         {"3 carbon", "engine nothing-in-common"},
         ""},
        {"three weak against one high",
         {sheet("dry,psi,,130,128,200,131\n"), {}},
         suspect,
         {"one-stands-out", "weak-by-gauge"},
         {},
         {"3 carbon", "engine nothing-in-common"},
         ""},
        {"all low together",
         {sheet(all_100_low), {}},
         suspect,
         {"all-low"},
         {"below-least-compression", "weak-by-gauge", "absolute-fine"},
         {},
         "vacuum-gauge"},
        {"a diesel's floor is not that of spark ignition",
         {sheet("dry,bar,,24,25,24,24\nfuel,,diesel,,,,\n"), {}},
         sound,
         {"gauge-sound"},
         {"all-low"},
         {},
         ""},
    };
}

std::vector<Vignette> in_the_block() {
    return {
        {"two side by side",
         {sheet("dry,psi,,150,70,72,150\nrows,,1-2-3-4,,,,\n"), {}},
         suspect,
         {"weak-side-by-side"},
         {"rows-not-known", "weak-apart", "one-weak-alone"},
         {"2 gasket-between", "3 gasket-between", "engine nothing-in-common"},
         ""},
        {"two apart",
         {sheet("dry,psi,,70,150,150,72\nrows,,1-2-3-4,,,,\n"), {}},
         suspect,
         {"weak-apart"},
         {"weak-side-by-side", "rows-not-known"},
         {"engine nothing-in-common"},
         ""},
        {"numbers in sequence, but in two rows",
         {sheet("dry,psi,,150,70,72,150\nrows,,1-3/2-4,,,,\n"), {}},
         suspect,
         {"weak-apart"},
         {"weak-side-by-side"},
         {"engine nothing-in-common"},
         ""},
        {"two weak, rows not known",
         {sheet("dry,psi,,150,70,72,150\n"), {}},
         suspect,
         {"rows-not-known"},
         {"weak-side-by-side", "weak-apart"},
         {"engine nothing-in-common"},
         ""},
        {"firing one after the other is not side by side",
         {sheet("rows,,1-2-3-4,,,,\n"), {recording({50, 98, 50, 99})}},
         suspect,
         {"weak-apart"},
         {"weak-side-by-side"},
         {},
         ""},
    };
}

std::vector<Vignette> puffs_and_oil() {
    return {
        {"low first puff that builds up",
         {sheet("dry,psi,,150,150,95,148\nfirst_puff,psi,,90,90,30,90\n"), {}},
         suspect,
         {"puff-builds-up"},
         {"puff-does-not-build"},
         {"3 rings", "engine nothing-in-common"},
         ""},
        {"low and does not build",
         {sheet("dry,psi,,150,150,70,148\nfirst_puff,psi,,90,90,62,90\n"), {}},
         suspect,
         {"puff-does-not-build"},
         {"puff-builds-up"},
         {"3 intake-valve", "3 exhaust-valve", "3 clearance", "3 head-gasket", "engine nothing-in-common"},
         ""},
        {"wet rises",
         {sheet("dry,psi,,150,150,70,148\nwet,psi,,155,,120,\n"), {}},
         suspect,
         {"wet-rises"},
         {"wet-does-not-rise", "wet-unclear"},
         {"3 rings", "3 washed", "engine nothing-in-common"},
         "run-warm"},
        {"wet does not rise",
         {sheet("dry,psi,,150,150,70,148\nwet,psi,,155,,72,\n"), {}},
         suspect,
         {"wet-does-not-rise"},
         {"wet-rises"},
         {"engine nothing-in-common"},
         "leak-down"},
        {"wet rises no more than in a sound cylinder",
         {sheet("dry,psi,,150,150,70,148\nwet,psi,,168,,79,\n"), {}},
         suspect,
         {"wet-does-not-rise"},
         {"wet-rises"},
         {"engine nothing-in-common"},
         "leak-down"},
        {"wet rises a little",
         {sheet("dry,psi,,150,150,100,148\nwet,psi,,,,108,\n"), {}},
         suspect,
         {"wet-unclear"},
         {"wet-rises", "wet-does-not-rise"},
         {"engine nothing-in-common"},
         ""},
        {"wet on a diesel is left aside",
         {sheet("dry,bar,,25,25,12,25\nwet,bar,,,,22,\nfuel,,diesel,,,,\n"), {}},
         suspect,
         {"wet-on-diesel"},
         {"wet-rises"},
         {},
         ""},
        {"all low and all rise",
         {sheet("dry,psi,,80,82,79,81\nwet,psi,,120,121,119,122\n"), {}},
         suspect,
         {"all-low", "all-rise-wet"},
         {"all-stay-wet"},
         {"engine worn-all", "engine washed-all"},
         ""},
        {"all low and oil does not help",
         {sheet("dry,psi,,80,82,79,81\nwet,psi,,81,82,80,82\n"), {}},
         suspect,
         {"all-low", "all-stay-wet"},
         {"all-rise-wet"},
         {"engine valve-timing", "engine throttle"},
         ""},
    };
}

// Leak-down bands below 10, to 20, to 30 %: from memory (references.md G).
std::vector<Vignette> from_leak_down() {
    return {
        {"exhaust valve",
         {sheet("dry,psi,,150,150,70,148\nleak_down,%,,6,7,60,5\nair_heard,,,,,tailpipe,\n"), {}},
         suspect,
         {"leaks-badly", "air-at-exhaust", "air-at-one-place", "leak-confirms"},
         {"leaks-everywhere"},
         {"3 exhaust-valve", "3 clearance", "engine nothing-in-common"},
         "valve-clearance"},
        {"intake valve",
         {sheet("leak_down,%,,,,45,\nair_heard,,,,,throttle body,\n"), {}},
         suspect,
         {"air-at-intake"},
         {},
         {"3 intake-valve", "3 clearance"},
         ""},
        {"rings",
         {sheet("leak_down,%,,,,45,\nair_heard,,,,,oil filler,\n"), {}},
         suspect,
         {"air-at-crankcase"},
         {},
         {"3 rings"},
         ""},
        {"head gasket into the coolant",
         {sheet("leak_down,%,,,,45,\nair_heard,,,,,bubbles,\n"), {}},
         suspect,
         {"air-in-coolant"},
         {},
         {"3 head-gasket"},
         ""},
        {"bubbles count at a small loss too",
         {sheet("leak_down,%,,5,5,8,5\nair_heard,,,,,coolant,\n"), {}},
         suspect,
         {"air-in-coolant", "leaks-little"},
         {"leaks-badly"},
         {},
         ""},
        {"gasket between two",
         {sheet("leak_down,%,,,45,45,\nair_heard,,,,neighbour,neighbour,\n"), {}},
         suspect,
         {"air-at-neighbour"},
         {},
         {"2 gasket-between", "3 gasket-between"},
         ""},
        {"two ways out",
         {sheet("leak_down,%,,,,45,\nair_heard,,,,,exhaust+crankcase,\n"), {}},
         suspect,
         {"air-at-exhaust", "air-at-crankcase"},
         {"air-at-one-place"},
         {"3 rings", "3 exhaust-valve", "3 clearance"},
         ""},
        {"a little air past the rings of a good cylinder is usual",
         {sheet("dry,psi,,150,150,148,148\nleak_down,%,,6,6,6,6\nair_heard,,,crankcase,,,\n"), {}},
         sound,
         {"leaks-little"},
         {"air-at-crankcase"},
         {"engine nothing-in-common"},
         ""},
        {"acceptable",
         {sheet("leak_down,%,,8,8,15,8\n"), {}},
         inconclusive,
         {"leaks-some"},
         {"leaks-badly", "air-at-crankcase"},
         {},
         ""},
        {"the maker's 10 % wins",
         {sheet("leak_down,%,,8,8,15,8\nmaker_leak_down,%,10,,,,\n"), {}},
         suspect,
         {"leaks-badly"},
         {"leaks-some"},
         {},
         ""},
        {"weak when cranked, tight when still",
         {sheet("leak_down,%,,6,6,7,6\n"), {recording({100, 98, 48, 99})}},
         suspect,
         {"weak-but-tight", "leaks-little"},
         {"leaks-badly"},
         {"3 lift"},
         ""},
        {"weak by gauge, tight when still",
         {sheet("dry,psi,,150,150,70,148\nleak_down,%,,6,6,7,6\n"), {}},
         suspect,
         {"weak-but-tight"},
         {},
         {"3 lift", "engine nothing-in-common"},
         "valve-lift"},
        {"compresses, but leaks when still",
         {sheet("dry,psi,,150,150,149,148\nleak_down,%,,6,6,40,6\n"), {}},
         suspect,
         {"leaks-but-compresses"},
         {"weak-but-tight"},
         {"3 reading", "engine nothing-in-common"},
         "leak-down-again"},
        {"everything leaks",
         {sheet("leak_down,%,,60,70,65,80\n"), {}},
         suspect,
         {"leaks-everywhere"},
         {},
         {"1 reading", "2 reading", "3 reading", "4 reading"},
         "leak-down-again"},
    };
}

// Below 9.5 V while cranking test the battery: PRINTED (references.md G).
std::vector<Vignette> battery_and_starter() {
    return {
        {"slow with a sagging battery",
         {{}, {cranked(110, 8.6)}},
         suspect,
         {"slow-and-sagging"},
         {"slow-but-firm", "battery-sags"},
         {"engine battery"},
         "battery-test"},
        {"slow with a firm battery",
         {sheet(even_dry), {cranked(110, 10.6)}},
         suspect,
         {"slow-but-firm"},
         {"slow-and-sagging"},
         {"engine starter", "engine drag", "engine nothing-in-common"},
         "turn-by-hand"},
        {"slow, battery not measured",
         {{}, {cranked(110, {})}},
         suspect,
         {"slow-unexplained"},
         {"slow-and-sagging", "slow-but-firm"},
         {},
         "battery-test"},
        {"the worksheet's voltage counts",
         {sheet("battery_cranking,V,8.4,,,,\n"), {cranked(110, {})}},
         suspect,
         {"slow-and-sagging"},
         {"slow-unexplained"},
         {"engine battery"},
         "battery-test"},
        {"sags at a usual speed",
         {{}, {cranked(190, 9.1)}},
         suspect,
         {"battery-sags"},
         {"slow-and-sagging"},
         {"engine battery"},
         "battery-test"},
    };
}

std::vector<Vignette> from_vacuum() {
    return {
        {"steady 19 inHg",
         {sheet("vacuum_idle,inHg,19,,,,\nneedle_idle,,steady,,,,\n"), {}},
         inconclusive,
         {"vacuum-normal"},
         {"vacuum-low-steady"},
         {},
         ""},
        {"steady 19 inHg clears late valve timing where all are low",
         {sheet("vacuum_idle,inHg,19,,,,\nneedle_idle,,steady,,,,\ndry,psi,,80,82,79,81\n"), {}},
         suspect,
         {"vacuum-normal", "all-low"},
         {},
         {},
         "throttle-open"},
        {"fluctuating about the usual level",
         {sheet("vacuum_idle,inHg,17,,,,\nneedle_idle,,fluctuating,,,,\n"), {}},
         suspect,
         {"vacuum-fluctuates"},
         {"vacuum-low-fluctuating"},
         {"engine valves"},
         ""},
        {"fluctuating, and an exhaust valve was heard",
         {sheet("vacuum_idle,inHg,17,,,,\nneedle_idle,,fluctuating,,,,\nleak_down,%,,6,6,45,6\n"
                "air_heard,,,,,tailpipe,\n"),
          {}},
         suspect,
         {"vacuum-agrees"},
         {"vacuum-fluctuates"},
         {"3 exhaust-valve", "3 clearance"},
         "valve-clearance"},
        {"12 inHg steady",
         {sheet("vacuum_idle,inHg,12,,,,\nneedle_idle,,steady,,,,\n"), {}},
         suspect,
         {"vacuum-low-steady"},
         {"vacuum-normal"},
         {"engine intake-leak"},
         ""},
        {"12 inHg is enough where the maker says 11",
         {sheet("vacuum_idle,inHg,12,,,,\nneedle_idle,,steady,,,,\nmaker_vacuum,inHg,11,,,,\n"), {}},
         inconclusive,
         {"vacuum-normal"},
         {"vacuum-low-steady"},
         {},
         ""},
        {"6 inHg fluctuating",
         {sheet("vacuum_idle,mmHg,152,,,,\nneedle_idle,,fluctuating,,,,\n"), {}},
         suspect,
         {"vacuum-low-fluctuating"},
         {"vacuum-fluctuates"},
         {"engine intake-leak"},
         "intake-smoke"},
        {"falls towards zero at 3000 rpm",
         {sheet("vacuum_idle,inHg,18,,,,\nvacuum_3000,inHg,4,,,,\nneedle_idle,,steady,,,,\n"), {}},
         suspect,
         {"vacuum-falls"},
         {"vacuum-holds"},
         {"engine exhaust-restriction"},
         "back-pressure"},
        {"holds at 3000 rpm",
         {sheet("vacuum_idle,inHg,18,,,,\nvacuum_3000,inHg,20,,,,\n"), {}},
         inconclusive,
         {"vacuum-holds"},
         {"vacuum-falls"},
         {},
         ""},
        {"a falling needle that holds by its figures is no free exhaust",
         {sheet("vacuum_idle,inHg,18,,,,\nvacuum_3000,inHg,17,,,,\nneedle_3000,,falling,,,,\n"), {}},
         suspect,
         {"vacuum-falls"},
         {"vacuum-holds"},
         {"engine exhaust-restriction"},
         ""},
    };
}

std::vector<Vignette> from_oil() {
    return {
        {"60 psi at 3000 rpm",
         {sheet("oil_3000,psi,60,,,,\n"), {}},
         inconclusive,
         {"oil-fine"},
         {"oil-low", "oil-below-usual"},
         {},
         ""},
        {"a few psi at idle within the maker's figure",
         {sheet("oil_idle,psi,8,,,,\nmaker_oil_idle,psi,6,,,,\n"), {}},
         inconclusive,
         {"oil-fine"},
         {"oil-idle-needs-maker", "oil-low"},
         {},
         ""},
        {"a few psi at idle without the maker's figure",
         {sheet("oil_idle,psi,8,,,,\n"), {}},
         inconclusive,
         {"oil-idle-needs-maker"},
         {"oil-low", "oil-fine"},
         {},
         "oil-mechanical"},
        {"low by a mechanical gauge",
         {sheet("oil_3000,bar,2,,,,\nmaker_oil_3000,bar,3,,,,\noil_gauge,,mechanical,,,,\n"), {}},
         suspect,
         {"oil-low"},
         {"oil-low-by-sender"},
         {"engine oil-wear"},
         ""},
        {"low by the sender",
         {sheet("oil_3000,bar,2,,,,\nmaker_oil_3000,bar,3,,,,\noil_gauge,,sender,,,,\n"), {}},
         suspect,
         {"oil-low-by-sender"},
         {"oil-low"},
         {},
         "oil-mechanical"},
        {"35 psi where the maker is silent",
         {sheet("oil_3000,psi,35,,,,\n"), {}},
         suspect,
         {"oil-below-usual"},
         {"oil-fine"},
         {},
         "oil-mechanical"},
        {"35 psi where the maker allows 30",
         {sheet("oil_3000,psi,35,,,,\nmaker_oil_3000,psi,30,,,,\n"), {}},
         inconclusive,
         {"oil-fine"},
         {"oil-below-usual"},
         {},
         ""},
        {"120 psi",
         {sheet("oil_3000,psi,120,,,,\n"), {}},
         suspect,
         {"oil-above-usual"},
         {},
         {"engine oil-relief"},
         ""},
        {"uses oil, rings pointed at",
         {sheet("uses_oil,,yes,,,,\nleak_down,%,,6,6,40,6\nair_heard,,,,,crankcase,\n"), {}},
         suspect,
         {"oil-past-rings"},
         {"oil-elsewhere"},
         {"3 rings"},
         ""},
        {"uses oil, every cylinder tight",
         {sheet("uses_oil,,yes,,,,\nleak_down,%,,6,6,7,6\n"), {}},
         suspect,
         {"oil-elsewhere"},
         {"oil-past-rings"},
         {"engine oil-elsewhere"},
         ""},
        {"uses oil and nothing else is known: no hint",
         {sheet("uses_oil,,yes,,,,\n"), {}},
         inconclusive,
         {},
         {"oil-past-rings", "oil-elsewhere"},
         {},
         ""},
        {"knocks and reads high",
         {sheet("knocks,,yes,,,,\ndry,psi,,150,150,210,150\nmaker_highest,psi,185,,,,\n"), {}},
         suspect,
         {"knocks-and-reads-high"},
         {},
         {"3 carbon", "engine nothing-in-common"},
         ""},
        {"knocks, readings usual: no hint",
         {sheet("knocks,,yes,,,,\ndry,psi,,150,148,149,150\n"), {}},
         sound,
         {},
         {"knocks-and-reads-high"},
         {"engine nothing-in-common"},
         ""},
    };
}

bool holds(const FollowUp& f, const std::string& code) {
    return std::any_of(f.findings.begin(), f.findings.end(),
                       [&](const JudgedFinding& x) { return x.rule->code == code; });
}

std::vector<std::string> pointed(const FollowUp& f) {
    std::vector<std::string> all;
    for (const auto& d : f.diagnoses)
        for (const auto& r : d.rivals)
            if (r.standing == Rival::Standing::pointed_at)
                all.push_back((d.cylinder ? std::to_string(*d.cylinder) : "engine") + " " + name(r.cause));
    return all;
}

}  // namespace

std::vector<Vignette> vignettes() {
    std::vector<Vignette> all;
    for (const auto& part : {from_recordings(), from_the_gauge(), in_the_block(), puffs_and_oil(),
                             from_leak_down(), battery_and_starter(), from_vacuum(), from_oil()})
        all.insert(all.end(), part.begin(), part.end());
    return all;
}

std::string wrong(const Vignette& v, std::span<const Rule> table) {
    const auto f = follow_up(v.evidence, table);
    std::ostringstream out;
    if (f.outcome != v.outcome) out << "outcome " << name(f.outcome) << "; ";
    for (const auto& code : v.codes)
        if (!holds(f, code)) out << "no " << code << "; ";
    for (const auto& code : v.not_codes)
        if (holds(f, code)) out << "there is " << code << "; ";
    auto expected = v.pointed_at;
    auto got = pointed(f);
    std::sort(expected.begin(), expected.end());
    std::sort(got.begin(), got.end());
    if (got != expected) {
        out << "points to";
        for (const auto& cause : got) out << " [" << cause << "]";
        out << "; ";
    }
    const std::string next = f.next_tests.empty() ? "" : f.next_tests.front().code;
    if (!v.next.empty() && v.next != next) out << "next " << next << "; ";
    return out.str();
}

}  // namespace evenstroke::test
