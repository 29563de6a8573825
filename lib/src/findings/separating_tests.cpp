// The tests that tell rivals apart, in order of cost, with what can hurt someone. None opens an engine.
#include <algorithm>

#include "finders.hpp"
#include "measures.hpp"

namespace evenstroke {

namespace {

using namespace findings;
using enum Cause;
using Cylinders = std::span<const int>;

bool never(const Evidence&, Cylinders) {
    return false;
}

/// True when every cylinder asked about (all of them for the engine) has what `has` looks for.
template <class Has>
bool all_have(const Evidence& e, Cylinders cylinders, Has has) {
    const auto everyone = cylinders_of(e);
    const Cylinders asked = cylinders.empty() ? Cylinders(everyone) : cylinders;
    return !asked.empty() && std::all_of(asked.begin(), asked.end(), [&](int c) {
        const auto* readings = readings_of(e, c);
        return readings != nullptr && has(*readings);
    });
}

/// Twice is enough; and where a gauge was used first, a recording adds nothing.
bool recorded_enough(const Evidence& e, Cylinders) {
    return e.recordings.size() >= 2 || (e.recordings.empty() && highest_dry_kpa(e));
}

/// A sync says nothing new unless a name is missing or in doubt.
bool names_settled(const Evidence& e, Cylinders) {
    return finds::weak_unnamed(e).empty() && finds::half_turn_unknown(e).empty() &&
           finds::named_half_turn_off(e).empty() && finds::gauge_disagrees(e).empty();
}

/// Looking it up says nothing new where it is known, or where nothing was measured.
bool figure_known(const Evidence& e, Cylinders) {
    const bool in_question = !finds::absolute_unclear(e).empty() || !finds::between_the_rules(e).empty();
    return !in_question;
}

bool any_dry(const Evidence& e, Cylinders) {
    return highest_dry_kpa(e).has_value();
}

bool dry_done(const Evidence& e, Cylinders cylinders) {
    return all_have(e, cylinders, [&](const auto& r) { return dry_ratio_pct(e, r.cylinder).has_value(); });
}

/// It is held against a dry reading: for the engine as a whole that comes first.
bool wet_done(const Evidence& e, Cylinders cylinders) {
    return (cylinders.empty() && !highest_dry_kpa(e)) || e.sheet.engine.fuel == Fuel::diesel ||
           all_have(e, cylinders, [](const auto& r) { return r.wet_kpa.has_value(); });
}

bool leak_done(const Evidence& e, Cylinders cylinders) {
    return all_have(e, cylinders,
                    [](const auto& r) { return r.leak_down_pct.has_value() && r.air_heard.has_value(); });
}

bool leak_undoubted(const Evidence& e, Cylinders) {
    return finds::leaks_but_compresses(e).empty() && finds::leaks_everywhere(e).empty();
}

bool vacuum_done(const Evidence& e, Cylinders) {
    const auto& g = e.sheet.engine;
    const bool read = g.vacuum_idle_kpa && g.needle_idle && finds::vacuum_unclear(e).empty();
    return read || g.fuel == Fuel::diesel;
}

bool oil_by_gauge(const Evidence& e, Cylinders) {
    return e.sheet.engine.oil_gauge == OilGauge::mechanical;
}

std::vector<SeparatingTest> make_tests() {
    const Causes bore(rings, washed);
    const Causes head(intake_valve, exhaust_valve, clearance, Cause::head_gasket, gasket_between, lift);
    const Causes not_reading = bore.with(head);
    return {
        {"maker-figure",
         "Look up the maker's least compression and least share of the highest cylinder, and write them on "
         "the "
         "worksheet (maker_lowest, maker_ratio).",
         {Causes(sound), Causes(worn_all, washed_all, valve_timing, throttle)},
         {},
         figure_known},
        {"repeat-recording",
         "Record again: fuel and ignition disabled as the maker says, throttle held open, engine warm, with "
         "a "
         "sync on a known cylinder. A weakness that is real stays with its cylinder.",
         {Causes(reading), not_reading},
         {"crank", "fuel"},
         recorded_enough},
        {"repeat-with-sync",
         "Record again with a mark that comes once in two turns on a cylinder you are sure of (camshaft, "
         "ignition or injector): it settles the name.",
         {Causes(reading), not_reading},
         {"crank", "fuel"},
         names_settled},
        {"battery-test",
         "Measure the battery while cranking, at its posts and again at the starter, then load-test it at "
         "the "
         "maker's load; a charged battery stays above 9.5 V.",
         {Causes(battery), Causes(starter, drag)},
         {"battery", "crank"},
         never},
        {"turn-by-hand",
         "With the battery disconnected turn the engine by hand at the crank bolt in its direction of "
         "rotation: what turns hard shows. Then measure the drop over the starter's leads.",
         {Causes(drag), Causes(starter, battery)},
         {"battery", "crank"},
         never},
        {"intake-smoke",
         "Look for the leak: low-pressure smoke into the intake, engine off.",
         {Causes(intake_leak), Causes(valves, valve_timing, worn_all)},
         {"running"},
         never},
        {"gauge-one",
         "Measure any one cylinder with a compression gauge and hold it against the maker's figure: it tells "
         "whether all are low together.",
         {Causes(sound, intake_leak, exhaust_restriction),
          Causes(worn_all, washed_all, valve_timing, throttle)},
         {"plugs-out", "fuel", "crank", "hot"},
         any_dry},
        {"vacuum-gauge",
         "Manifold vacuum at idle and held at 3000 rpm, engine warm: level and steadiness.",
         {Causes(intake_leak), Causes(valves), Causes(exhaust_restriction), Causes(valve_timing),
          Causes(sound, worn_all, washed_all, throttle)},
         {"running", "hot"},
         vacuum_done},
        {"oil-level",
         "Oil level, grade and age, and look for leaks outside; warm, again with a mechanical gauge.",
         {Causes(oil_relief, oil_elsewhere), Causes(oil_wear, oil_sender, worn_all)},
         {"hot-oil", "running", "no-oil"},
         never},
        {"oil-mechanical",
         "Oil pressure hot, at idle and at 3000 rpm, with a mechanical gauge in the sender's place, against "
         "the maker's figures.",
         {Causes(oil_sender), Causes(oil_wear, oil_relief)},
         {"hot-oil", "running", "no-oil"},
         oil_by_gauge},
        {"gauge-dry",
         "Dry compression test with a gauge on every cylinder: engine warm, all plugs out, throttle wide "
         "open, 4 to 5 compressions, first and last reading noted.",
         {Causes(reading), not_reading},
         {"plugs-out", "fuel", "crank", "hot"},
         dry_done},
        {"throttle-open",
         "Measure again with the throttle held wide open and the air filter out, battery charged.",
         {Causes(throttle), Causes(worn_all, washed_all, valve_timing)},
         {"plugs-out", "fuel", "crank", "hot"},
         never},
        {"gauge-wet",
         "Wet test (spark ignition only): 15 ml of oil in that cylinder and in a sound one, and the gauge "
         "again. A clear rise beyond the sound one's points to rings or bore; none to what lies above.",
         {bore.with(Causes(worn_all, washed_all)), head.with(Causes(valve_timing, throttle))},
         {"plugs-out", "fuel", "crank", "hot"},
         wet_done},
        {"run-warm",
         "Let it run until it is hot, or (spark ignition only) put a little oil in and turn it, and take the "
         "dry reading again: "
         "washed bores recover, worn ones do not.",
         {Causes(washed, washed_all), Causes(rings, worn_all)},
         {"running", "plugs-out", "fuel", "crank", "hot"},
         never},
        {"leak-down",
         "Leak-down test with that cylinder at TDC of compression, both valves closed, crank held: read the "
         "loss, and listen at throttle body, tailpipe, oil filler, coolant and the neighbouring plug holes.",
         {bore, Causes(intake_valve), Causes(exhaust_valve), Causes(Cause::head_gasket),
          Causes(gasket_between), Causes(lift, reading)},
         {"air-pressure", "plugs-out", "coolant", "hot"},
         leak_done},
        {"leak-down-again",
         "Leak-down test again: warm engine, TDC of compression found with certainty, crank held, plug "
         "threads tight, after the valves were snapped or the engine turned a few times.",
         {Causes(reading), not_reading},
         {"air-pressure", "plugs-out", "hot"},
         leak_undoubted},
        {"back-pressure",
         "Exhaust back-pressure before the catalyst at 3000 rpm, or vacuum again with the exhaust opened "
         "there.",
         {Causes(exhaust_restriction), Causes(valve_timing, valves, intake_leak)},
         {"hot", "running"},
         never},
        {"combustion-gas",
         "Test the coolant for combustion gas, cold engine, and pressure-test the cooling system.",
         {Causes(Cause::head_gasket),
          Causes(gasket_between, rings, washed, intake_valve, exhaust_valve, clearance)},
         {"coolant"},
         never},
        {"leak-down-all",
         "Leak-down test on every cylinder, each at its TDC of compression, crank held, listening where the "
         "air goes.",
         {Causes(valves), Causes(intake_leak, exhaust_restriction), Causes(worn_all), Causes(oil_elsewhere)},
         {"air-pressure", "plugs-out", "coolant", "hot"},
         leak_done},
        {"valve-clearance",
         "Check valve clearance and free movement of that cylinder's valves: one that is held open leaks "
         "like one that is burnt.",
         {Causes(clearance), Causes(intake_valve, exhaust_valve)},
         {"crank"},
         never},
        {"valve-timing",
         "Check valve timing by the maker's marks or by an in-cylinder pressure recording.",
         {Causes(valve_timing), Causes(worn_all, washed_all, throttle, intake_leak, exhaust_restriction)},
         {"crank"},
         never},
        {"valve-lift",
         "Measure the lift of that cylinder's valves against a sound cylinder's (dial gauge, cover off): a "
         "worn cam, collapsed follower or bent pushrod shows.",
         {Causes(lift), bore.with(Causes(intake_valve, exhaust_valve, clearance, Cause::head_gasket,
                                         gasket_between, reading))},
         {"crank"},
         never},
        {"look-inside",
         "Look into the cylinder through the plug hole: carbon, oil, wet bores, marks on piston and valves.",
         {Causes(carbon), Causes(reading), bore, Causes(intake_valve, exhaust_valve)},
         {"plugs-out"},
         never},
    };
}

}  // namespace

std::span<const SeparatingTest> separating_tests() {
    static const std::vector<SeparatingTest> tests = make_tests();
    return tests;
}

}  // namespace evenstroke
