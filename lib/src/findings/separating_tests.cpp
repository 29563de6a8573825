// The tests that tell rivals apart, in order of cost; their words stand in test_table.cpp. None opens an
// engine.
#include <algorithm>
#include <utility>

#include "finders.hpp"
#include "measures.hpp"
#include "test_table.hpp"

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

/// Rivals of different groups give different results in it.
SeparatingTest row(const char* code, std::vector<Causes> groups,
                   bool (*settled)(const Evidence&, Cylinders)) {
    return {code, suggested(code).text, std::move(groups), test_row(code).cautions, settled};
}

std::vector<SeparatingTest> make_tests() {
    const Causes bore(rings, washed);
    const Causes head(intake_valve, exhaust_valve, clearance, Cause::head_gasket, gasket_between, lift);
    const Causes not_reading = bore.with(head);
    return {
        row("maker-figure", {Causes(sound), Causes(worn_all, washed_all, valve_timing, throttle)},
            figure_known),
        row("repeat-recording", {Causes(reading), not_reading}, recorded_enough),
        row("repeat-with-sync", {Causes(reading), not_reading}, names_settled),
        row("battery-test", {Causes(battery), Causes(starter, drag)}, never),
        row("turn-by-hand", {Causes(drag), Causes(starter, battery)}, never),
        row("intake-smoke", {Causes(intake_leak), Causes(valves, valve_timing, worn_all)}, never),
        row("gauge-one",
            {Causes(sound, intake_leak, exhaust_restriction),
             Causes(worn_all, washed_all, valve_timing, throttle)},
            any_dry),
        row("vacuum-gauge",
            {Causes(intake_leak), Causes(valves), Causes(exhaust_restriction), Causes(valve_timing),
             Causes(sound, worn_all, washed_all, throttle)},
            vacuum_done),
        row("oil-level", {Causes(oil_relief, oil_elsewhere), Causes(oil_wear, oil_sender, worn_all)}, never),
        row("oil-mechanical", {Causes(oil_sender), Causes(oil_wear, oil_relief)}, oil_by_gauge),
        row("gauge-dry", {Causes(reading), not_reading}, dry_done),
        row("throttle-open", {Causes(throttle), Causes(worn_all, washed_all, valve_timing)}, never),
        row("gauge-wet", {bore.with(Causes(worn_all, washed_all)), head.with(Causes(valve_timing, throttle))},
            wet_done),
        row("run-warm", {Causes(washed, washed_all), Causes(rings, worn_all)}, never),
        row("leak-down",
            {bore, Causes(intake_valve), Causes(exhaust_valve), Causes(Cause::head_gasket),
             Causes(gasket_between), Causes(lift, reading)},
            leak_done),
        row("leak-down-again", {Causes(reading), not_reading}, leak_undoubted),
        row("back-pressure", {Causes(exhaust_restriction), Causes(valve_timing, valves, intake_leak)}, never),
        row("combustion-gas",
            {Causes(Cause::head_gasket),
             Causes(gasket_between, rings, washed, intake_valve, exhaust_valve, clearance)},
            never),
        row("leak-down-all",
            {Causes(valves), Causes(intake_leak, exhaust_restriction), Causes(worn_all),
             Causes(oil_elsewhere)},
            leak_done),
        row("valve-clearance", {Causes(clearance), Causes(intake_valve, exhaust_valve)}, never),
        row("valve-timing",
            {Causes(valve_timing), Causes(worn_all, washed_all, throttle, intake_leak, exhaust_restriction)},
            never),
        row("valve-lift",
            {Causes(lift), bore.with(Causes(intake_valve, exhaust_valve, clearance, Cause::head_gasket,
                                            gasket_between, reading))},
            never),
        row("look-inside", {Causes(carbon), Causes(reading), bore, Causes(intake_valve, exhaust_valve)},
            never),
    };
}

}  // namespace

std::span<const SeparatingTest> separating_tests() {
    static const std::vector<SeparatingTest> tests = make_tests();
    return tests;
}

}  // namespace evenstroke
