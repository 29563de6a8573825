// One table. Rows that are one test have one text, whichever command suggests it under which code; a second
// text of a code has its reason beside it.
#include "test_table.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cassert>

#include "test_cautions.hpp"

namespace evenstroke::findings {

namespace {

using Cautions = std::vector<const char*>;

const std::string record_again_text =
    "Record again: fuel and ignition disabled as the maker says, throttle held open, engine warm, five "
    "seconds of cranking from before the key is turned until after it is released";
const std::string record_to_confirm_text =
    record_again_text + ", with a sync on a known cylinder. A real weakness stays with its cylinder.";
const std::string gauge_conditions_text =
    ": engine warm, all plugs out, throttle wide open, 4 to 5 compressions, first and last reading noted.";
const std::string gauge_everywhere_text =
    "Dry compression test with a gauge on every cylinder" + gauge_conditions_text;
const std::string wet_test_text =
    "Wet test (spark ignition only): 15 ml of oil in {who} and in a sound one, if there is one, then {with} "
    "again. A clear rise beyond the sound one's points to rings or bore; none points to valves or head "
    "gasket.";
const std::string leak_down_text =
    "Leak-down test with {who} at TDC of compression, both valves closed, crank held fast (the air can turn "
    "it): read the loss, and listen at throttle body, tailpipe, oil filler, coolant and the neighbouring "
    "plug holes.";
const std::string valve_timing_text =
    "Check valve timing: the maker's marks on the camshaft drive, the phaser's rest position, and on solid "
    "lifters the clearance";
const std::string intake_text =
    "hold the throttle open and look for a blocked intake; then check valve timing and lift.";

const Cautions recording_cautions{"crank", "fuel"};
// Where nothing could be told, the plugs may be out, for a transducer or because that is why.
const Cautions capture_cautions{"crank", "fuel", "plugs-out"};
const Cautions gauge_cautions{"plugs-out", "fuel", "crank", "hot"};
const Cautions height_cautions{"plugs-out", "hot"};
const Cautions air_cautions{"air-pressure", "plugs-out", "coolant", "hot"};

/// Recordings, once more.
void add_recordings(std::vector<TestRow>& rows) {
    rows.insert(
        rows.end(),
        {{"repeat-capture", record_again_text + ".", capture_cautions},
         // In the cylinder every plug is out, and fewer compressions tell enough.
         {"repeat-capture/pressure",
          "Record again: every plug out, throttle wide open, fuel and ignition disabled, engine warm, at "
          "least four compressions.",
          capture_cautions},
         {"repeat-recording", record_to_confirm_text, recording_cautions},
         {"repeat-same", record_to_confirm_text, recording_cautions},
         // Without a sync no cylinder is known that it could stay with.
         {"repeat-same/unnamed",
          record_again_text + ". A real weakness comes back as large. Its position may differ, since each "
                              "recording counts from its own first compression.",
          recording_cautions},
         {"repeat-longer",
          "Record again with the throttle held open and a longer crank, no more than 15 s at a time with 20 "
          "s of rest: more cycles narrow the interval.",
          recording_cautions},
         // More cycles of a trace that does not fit would not help.
         {"repeat-longer/layout",
          "Check the firing intervals, the sync channel and its lead, then record again at steady cranking: "
          "the trace does not follow an engine of this layout.",
          recording_cautions},
         {"repeat-with-sync",
          "Record again with a sync whose mark comes once every two turns, on a cylinder you are sure of "
          "(camshaft, injector, or an ignition that wastes no spark), and give --order: it settles the "
          "cylinder's number.",
          recording_cautions},
         {"larger-range",
          "Choose a larger range, or a transducer for higher pressure, and record again in the same way.",
          {}},
         {"other-cylinder", "Record another cylinder the same way for comparison.", {"plugs-out"}},
         // A gauge's reading without a verdict: the others and the maker decide.
         {"other-cylinder/gauge",
          "The gauge on every other cylinder in the same way: the lowest should reach at least 75 % of the "
          "highest. Look up the maker's figure.",
          {"plugs-out"}}});
}

/// The same recording, analysed again: nothing need be recorded anew where what is missing can be told of it.
void add_analyses(std::vector<TestRow>& rows) {
    const std::string named = ": the position then gets its cylinder number.";
    rows.insert(
        rows.end(),
        {{"repeat-with-sync/unused",
          "Analyse this recording again with its own sync channel (--sync, see the notices) and --order" +
              named,
          recording_cautions},
         {"repeat-with-sync/order",
          "Analyse this recording again with --order, the firing order starting at the cylinder of the mark" +
              named,
          recording_cautions},
         {"repeat-with-sync/lead",
          "Analyse this recording again with --sync-lead, the crank degrees from the mark of \"{who}\" to "
          "the TDC of its cylinder, and with --order where it is missing" +
              named,
          recording_cautions},
         {"give-ratio",
          "Analyse this recording again with --compression-ratio; no new recording is needed.",
          {}},
         {"give-geometry",
          "Analyse this recording again with the cylinder's dimensions; no new recording is needed.",
          {}},
         {"check-dimensions",
          "Check bore, stroke, rod, compression ratio, unit and scale, and analyse this recording again: if "
          "one was wrong, no new recording is needed.",
          {}}});
}

/// Compression and leakage of cylinders, by hand.
void add_gauges(std::vector<TestRow>& rows) {
    rows.insert(
        rows.end(),
        {{"piston-height",
          "Battery disconnected, turn the crank by hand and compare how high the pistons stand at TDC, with "
          "a soft rod or a depth gauge through the plug holes: one that stays lower has a bent rod.",
          height_cautions},
         {"maker-figure",
          "Look up the maker's minimum compression and minimum share of the highest cylinder, and write them "
          "on "
          "the worksheet (maker_lowest, maker_ratio).",
          {}},
         {"gauge-one",
          "Measure any one cylinder with a compression gauge and compare it with the maker's figure: it "
          "shows whether all are low together.",
          gauge_cautions},
         {"gauge-dry", gauge_everywhere_text, gauge_cautions},
         // A recording has told already which cylinders are worth it.
         {"gauge-dry/some",
          "Dry compression test with a gauge on {who} and on one good cylinder for comparison" +
              gauge_conditions_text,
          gauge_cautions},
         {"gauge-all",
          gauge_everywhere_text + " It needs no recording, and so helps where none gives a verdict.",
          gauge_cautions},
         // One cylinder has no other to be compared with, so it is measured itself.
         {"gauge-all/single",
          "A compression gauge, or a pressure transducer in the plug hole (evenstroke pressure), measures a "
          "single cylinder directly.",
          gauge_cautions},
         {"throttle-open",
          "Measure again with the throttle held wide open and the air filter out, battery charged.",
          gauge_cautions},
         {"gauge-wet", wet_test_text, gauge_cautions},
         {"wet-test", wet_test_text, gauge_cautions},
         {"run-warm",
          "Let it run until it is hot, or (spark ignition only) put a little oil in and turn it, and take "
          "the dry reading again: washed bores recover, worn ones do not.",
          {"running", "plugs-out", "fuel", "crank", "hot"}},
         {"leak-down", leak_down_text, air_cautions},
         // One that opens while the crank stands would leak without any fault.
         {"leak-down/decompressor", leak_down_text + " Release any decompressor first.", air_cautions},
         {"leak-down/valve-timing",
          leak_down_text + " A cylinder that holds its air has its valves out of time.", air_cautions},
         {"leak-down-all",
          fmt::format(fmt::runtime(leak_down_text), fmt::arg("who", "each cylinder in turn")), air_cautions},
         // It removes the doubts about the test that was made.
         {"leak-down-again",
          "Leak-down test again: warm engine, TDC of compression found with certainty, crank held, plug "
          "threads tight, after the valves were snapped or the engine turned a few times.",
          {"air-pressure", "plugs-out", "hot"}}});
}

/// Valves, intake, exhaust, coolant.
void add_looks(std::vector<TestRow>& rows) {
    rows.insert(
        rows.end(),
        {{"valve-timing", valve_timing_text + "; or see it in an in-cylinder pressure recording.", {"crank"}},
         // That recording was just made.
         {"valve-timing/recorded", valve_timing_text + ".", {"crank"}},
         {"valve-clearance",
          "Check valve clearance and free movement of {who}'s valves: one that is held open leaks like one "
          "that is burnt.",
          {"crank"}},
         {"valve-lift",
          "Measure the lift of {who}'s valves against a sound cylinder's (dial gauge, cover off): a worn "
          "cam, collapsed follower or bent pushrod shows.",
          {"crank"}},
         {"look-inside",
          "Look into the cylinder through the plug hole: carbon, oil, wet bores, marks on piston and valves.",
          {"plugs-out"}},
         {"intake", "H" + intake_text.substr(1), {}},
         // A leak would explain it as well, and its tests come first.
         {"intake/no-leak", "Without a leak: " + intake_text, {}},
         {"intake-smoke", "Look for the leak: low-pressure smoke into the intake, engine off.", {"running"}},
         {"vacuum-gauge",
          "Manifold vacuum at idle and held at 3000 rpm, engine warm: level and steadiness.",
          {"running", "hot"}},
         {"back-pressure",
          "Exhaust back-pressure before the catalyst at 3000 rpm, or vacuum again with the exhaust opened "
          "there.",
          {"hot", "running"}},
         {"combustion-gas",
          "Test the coolant for combustion gas, cold engine, and pressure-test the cooling system.",
          {"coolant"}}});
}

/// Battery, starter, oil.
void add_supplies(std::vector<TestRow>& rows) {
    rows.insert(
        rows.end(),
        {{"battery-test",
          "Measure the battery while cranking, at its posts and again at the starter, then load-test it at "
          "the maker's load; a charged battery stays above 9.5 V.",
          {"battery", "crank"}},
         {"turn-by-hand",
          "With the battery disconnected, turn the engine by hand at the crank bolt in its direction of "
          "rotation: drag can be felt. Then measure the drop across the starter's leads.",
          {"battery", "crank"}},
         {"oil-level",
          "Check oil level, grade and age, and look for external leaks; then measure again, warm, with a "
          "mechanical gauge.",
          {"hot-oil", "running", "no-oil"}},
         {"oil-mechanical",
          "Oil pressure hot, at idle and at 3000 rpm, with a mechanical gauge in the sender's place, against "
          "the maker's figures.",
          {"hot-oil", "running", "no-oil"}}});
}

std::string_view code_of(const TestRow& row) {
    const std::string_view key = row.key;
    return key.substr(0, key.find('/'));
}

}  // namespace

std::span<const TestRow> test_table() {
    static const std::vector<TestRow> table = [] {
        std::vector<TestRow> rows;
        for (const auto add : {add_recordings, add_analyses, add_gauges, add_looks, add_supplies}) add(rows);
        return rows;
    }();
    return table;
}

const TestRow& test_row(std::string_view key) {
    const auto table = test_table();
    const auto row =
        std::find_if(table.begin(), table.end(), [key](const TestRow& one) { return one.key == key; });
    assert(row != table.end());
    return *row;
}

NextTest suggested(std::string_view key, const TestSubject& subject) {
    const TestRow& row = test_row(key);
    return {std::string(code_of(row)), fmt::format(fmt::runtime(row.says), fmt::arg("who", subject.who),
                                                   fmt::arg("with", subject.with))};
}

std::vector<std::string> cautions_of(std::span<const NextTest> tests, std::vector<std::string> dangers) {
    for (const NextTest& test : tests) {
        const TestRow& row = test_row(test.code);
        dangers.insert(dangers.end(), row.cautions.begin(), row.cautions.end());
    }
    return test_cautions(dangers);
}

std::vector<std::string> cranking_dangers() {
    return {"fuel", "crank", "battery", "hot"};
}

}  // namespace evenstroke::findings
