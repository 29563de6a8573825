// The rules, one table. A row: code, sentence, what it needs, strength, whether it is a conflict, rivals that
// it opens, points to and removes, the test that separates them, its source. Limits stand in measures.hpp and
// beside the functions that use them; docs/diagnosis.md draws the paths.
#include "finders.hpp"

namespace evenstroke {

namespace {

using namespace findings::finds;
using enum Cause;
using enum Strength;

constexpr Causes nothing;
/// What may make one cylinder weak, before anything else is known.
constexpr Causes one_cylinder(rings, washed, intake_valve, exhaust_valve, clearance, head_gasket,
                              gasket_between, lift);
/// A recording can be named wrongly as well.
constexpr Causes one_recorded = one_cylinder.with(Causes(reading));
/// Ways out for the air of one cylinder.
constexpr Causes leaks(rings, washed, intake_valve, exhaust_valve, clearance, head_gasket, gasket_between);
constexpr Causes above_the_rings(intake_valve, exhaust_valve, clearance, head_gasket, gasket_between, lift);
/// What may lower all cylinders alike.
constexpr Causes all_alike(worn_all, washed_all, valve_timing, throttle);

constexpr const char* practice = "common practice, no published source";
constexpr const char* method = "this project's definition (docs/output.md, Verdicts)";
constexpr const char* manuals_75_70 =
    "service manuals, printed: lowest at least 75 % of the highest; another maker at least 70 % and 100 psi";
constexpr const char* service_pages = "a maker's service pages, 2006 and 2009, printed";
constexpr const char* manual_1999 = "a service manual of 1999, printed: below 9.5 V test the battery";
constexpr const char* itself = "follows from the evidence itself";

constexpr bool conflict = true;
constexpr bool plain = false;

constexpr Rule table[] = {
    // What recordings say.
    {"no-evidence", "Nothing was measured yet.", "nothing", hint, plain, nothing, nothing, nothing,
     "repeat-recording", itself, no_evidence},
    {"recording-no-verdict", "A recording carries no verdict; its reason says what to record next time.",
     "a recording", hint, plain, nothing, nothing, nothing, "repeat-recording", method, no_verdict},
    {"weak-in-recording", "{} compresses less than the others when cranked.", "a recording with names",
     supported, plain, one_recorded, nothing, nothing, "repeat-recording", method, weak_recorded},
    {"low-in-recording",
     "{} is lower than the others by more than chance when cranked, but not certainly weak.",
     "a recording with names", hint, plain, nothing, nothing, nothing, "repeat-recording", practice,
     low_recorded},
    {"weak-without-name", "A cylinder is weak, but the recording does not say which.",
     "a recording without names", hint, plain, nothing, nothing, nothing, "repeat-with-sync", method,
     weak_unnamed},
    {"gauge-names", "The gauge identifies what the recording could not: {}.",
     "a recording without names, dry readings of all cylinders", supported, plain, nothing, nothing, nothing,
     "leak-down", itself, gauge_names},
    {"gauge-finds-none", "The recording finds a weak cylinder, but the gauge finds none.",
     "a recording without names, dry readings of all cylinders", supported, conflict, nothing,
     Causes(reading), nothing, "repeat-with-sync", itself, gauge_finds_none},
    {"weak-half-turn-unknown", "One of {} is weak: the mark comes every turn and does not tell them apart.",
     "a recording whose mark comes every 360 degrees", supported, plain, one_recorded, nothing, nothing,
     "repeat-with-sync", itself, half_turn_unknown},
    {"half-turn-settled",
     "{} is the weak one of the two that the recording could not tell apart: readings show the other to be "
     "sound.",
     "a recording whose mark comes every 360 degrees, gauge or leak-down readings of both", supported, plain,
     one_recorded, nothing, Causes(reading), "leak-down", itself, half_turn_settled},
    {"named-half-turn-off",
     "The recording may have swapped {}: they fire 360 degrees apart, and the gauge finds the other one "
     "weak.",
     "a recording with names, gauge readings of both", supported, conflict, nothing, Causes(reading), nothing,
     "repeat-with-sync", practice, named_half_turn_off},
    {"recordings-disagree", "{} is weak in one recording and even in another.", "two recordings with names",
     supported, conflict, nothing, Causes(reading), nothing, "gauge-dry", itself, recordings_disagree},
    {"loss-like-a-leak", "In the recording, {} loses pressure as a leak would.",
     "a recording that shows the kind of loss", hint, plain, nothing, leaks, nothing, "leak-down", method,
     leak_like},
    {"loss-like-low-charge", "The recording shows {} compressing less air, not losing it.",
     "a recording that shows the kind of loss", hint, plain, nothing, Causes(lift), nothing, "leak-down",
     method, charge_like},
    {"relative-only",
     "The cylinders compress alike, but a recording compares them only with each other: it cannot see wear, "
     "late valve timing, a closed throttle or washed bores that are the same in all.",
     "a recording without any gauge reading", hint, plain, all_alike.with(Causes(sound)), nothing, nothing,
     "gauge-one", method, relative_only},

    // What the compression gauge says.
    {"weak-by-gauge", "{} reads below the allowed share of the highest cylinder.",
     "dry readings of two cylinders", strong, plain, one_cylinder, nothing, nothing, "gauge-wet",
     manuals_75_70, weak_by_gauge},
    {"between-published-limits", "{} fails the 75 % rule of some makers but passes the 70 % rule of another.",
     "dry readings of two cylinders", hint, plain, nothing, nothing, nothing, "maker-figure", manuals_75_70,
     between_the_rules},
    {"below-least-compression", "{} reads below the lowest compression allowed.", "a dry reading", supported,
     plain, one_cylinder, nothing, nothing, "gauge-wet", manuals_75_70, below_the_floor},
    {"gauge-confirms", "Gauge and recording agree that {} is weak.", "a recording with names, dry readings",
     strong, plain, nothing, nothing, Causes(reading), "gauge-wet", practice, gauge_agrees},
    {"gauge-contradicts", "The recording finds {} weak, but the gauge does not.",
     "a recording with names, dry readings", supported, conflict, nothing, Causes(reading), nothing,
     "repeat-with-sync", itself, gauge_disagrees},
    {"gauge-contradicts-both", "The recording finds one of {} weak, but the gauge finds neither.",
     "a recording whose mark comes every 360 degrees, dry readings of both", supported, conflict, nothing,
     Causes(reading), nothing, "repeat-with-sync", itself, gauge_disagrees_with_both},
    {"recording-contradicts", "The gauge finds {} weak, but the recording does not.",
     "a recording with names or with all alike, dry readings", supported, conflict, nothing, Causes(reading),
     nothing, "repeat-recording", itself, recording_misses},
    {"gauge-sound", "All cylinders measured lie within the limits.", "dry readings of all cylinders",
     supported, plain, nothing, nothing, nothing, "vacuum-gauge", manuals_75_70, gauge_sound},
    {"absolute-fine", "One absolute reading is high enough: not all cylinders are low together.",
     "one dry reading", supported, plain, nothing, Causes(sound), all_alike, "vacuum-gauge", manuals_75_70,
     absolute_fine},
    {"absolute-unclear",
     "How high a reading must be on this engine is not known, so all may be low together: the maker's figure "
     "decides.",
     "dry readings without the maker's minimum", hint, plain, all_alike.with(Causes(sound)), nothing, nothing,
     "maker-figure", practice, absolute_unclear},
    {"reads-high", "{} reads above the maker's maximum: carbon or oil in the chamber.",
     "a dry reading, the maker's maximum", supported, plain, Causes(reading), Causes(carbon), nothing,
     "look-inside", practice, reads_high},
    {"one-stands-out",
     "Most cylinders read weak against {}: that one may be out of line, through carbon or oil.",
     "dry readings of three cylinders", hint, conflict, Causes(reading), Causes(carbon), nothing,
     "look-inside", practice, one_stands_out},
    {"all-low", "All cylinders measured are low, and alike: look for what they share.",
     "dry readings below the lowest allowed", supported, plain, all_alike, nothing, nothing, "throttle-open",
     manuals_75_70, all_low},

    // Where the weak ones stand in the block.
    {"one-weak-alone", "{} is the only weak cylinder: a gasket open between two would lower both.",
     "all the others known to be sound", supported, plain, nothing, nothing, Causes(gasket_between),
     "leak-down", service_pages, one_weak},
    {"weak-apart", "{} has only sound neighbours: a gasket open between two would lower both.",
     "the rows of the block, and the neighbours known to be sound", supported, plain, nothing, nothing,
     Causes(gasket_between), "leak-down", service_pages, weak_apart},
    {"weak-side-by-side",
     "{} stand side by side in the block: the usual cause is the head gasket between them.",
     "the rows of the block", supported, plain, nothing, Causes(gasket_between), nothing, "leak-down",
     service_pages, weak_side_by_side},
    {"rows-not-known",
     "{} are weak; whether they stand side by side in the block is not known (give rows), and the firing "
     "order does not show it.",
     "two weak cylinders", hint, plain, nothing, nothing, nothing, "leak-down", service_pages, rows_unknown},

    // Puffs, and oil in the cylinder.
    // The printed rule (service_pages) speaks for rings, and stays a hint: on simulated gauges a slow filling
    // builds up as a leak past the rings does, so `pressure` gives no verdict on it, and here nothing is said
    // where a cylinder that is not low starts as low.
    {"puff-builds-up", "{} starts low and builds up: rings, or a gauge that fills slowly.",
     "first puff and last reading of a low cylinder, no other that starts as low", hint, plain, nothing,
     Causes(rings), nothing, "gauge-wet", service_pages, puff_builds},
    {"puff-does-not-build", "{} is low and does not build up: valves or head gasket rather than rings.",
     "first puff and last reading of a low cylinder", hint, plain, nothing,
     Causes(intake_valve, exhaust_valve, clearance, head_gasket), nothing, "gauge-wet", service_pages,
     puff_stays},
    {"wet-rises", "{} rises with oil in the cylinder: rings or bore.",
     "dry and wet readings of a low cylinder", supported, plain, nothing, Causes(rings, washed),
     above_the_rings, "run-warm", practice, wet_rises},
    {"wet-does-not-rise", "{} does not rise with oil in the cylinder: look above the rings.",
     "dry and wet readings of a low cylinder", supported, plain, nothing, nothing, Causes(rings, washed),
     "leak-down", practice, wet_stays},
    {"wet-unclear", "{} rises a little with oil in the cylinder, no more than the gauge itself may vary.",
     "dry and wet readings of a low cylinder", hint, plain, nothing, nothing, nothing, "leak-down", practice,
     wet_unclear},
    {"wet-on-diesel",
     "The wet readings of {} are ignored: the small chamber of a diesel makes them meaningless, and oil in "
     "it can lock the engine.",
     "wet readings of a diesel", hint, plain, nothing, nothing, nothing, "leak-down", practice,
     wet_on_diesel},
    {"all-rise-wet", "All are low and rise with oil: worn or washed bores in all.",
     "dry and wet readings, all low", supported, plain, nothing, Causes(worn_all, washed_all),
     Causes(valve_timing, throttle), "run-warm", practice, all_rise_wet},
    {"all-stay-wet", "All are low and oil does not help: too little air gets in.",
     "dry and wet readings, all low", supported, plain, nothing, Causes(valve_timing, throttle),
     Causes(worn_all, washed_all), "throttle-open", practice, all_stay_wet},

    // Where the air goes. At TDC of compression both valves are closed.
    {"leaks-badly", "{} loses more air than is allowed.", "a leak-down reading", strong, plain, one_cylinder,
     nothing, Causes(lift), "leak-down", "common practice, from memory: above 20 % poor, above 30 % a fault",
     leaks_badly},
    {"leak-confirms", "Leak-down and compression agree that {} is weak.",
     "weak by recording or gauge, and a bad leak-down reading", strong, plain, nothing, nothing,
     Causes(reading), "gauge-wet", practice, leak_confirms},
    {"leaks-some", "{} loses more air than a good engine, but within what is accepted.",
     "a leak-down reading", hint, plain, nothing, nothing, nothing, "leak-down",
     "common practice, from memory: 10 to 20 % acceptable", leaks_some},
    {"leaks-little", "{} holds its air: rings, valves and gasket seal while the engine stands.",
     "a leak-down reading", supported, plain, nothing, nothing, leaks, "valve-lift",
     "common practice, from memory: below 10 % good", leaks_little},
    {"air-at-intake", "Air from {} comes out at the throttle body: intake valve.",
     "a leak-down reading, air heard", strong, plain, one_cylinder, Causes(intake_valve, clearance), nothing,
     "valve-clearance", practice, air_at_intake},
    {"air-at-exhaust", "Air from {} comes out at the tailpipe: exhaust valve.",
     "a leak-down reading, air heard", strong, plain, one_cylinder, Causes(exhaust_valve, clearance), nothing,
     "valve-clearance", practice, air_at_exhaust},
    {"air-at-crankcase", "Air from {} comes out at the oil filler or dipstick: rings.",
     "a leak-down reading, air heard", strong, plain, one_cylinder, Causes(rings), nothing, "gauge-wet",
     practice, air_at_crankcase},
    {"air-in-coolant", "Air from {} bubbles in the coolant: head gasket (or a crack).", "air heard", strong,
     plain, one_cylinder, Causes(head_gasket), nothing, "combustion-gas", practice, air_in_coolant},
    {"air-at-neighbour", "Air from {} comes out at the neighbouring plug hole: head gasket between the two.",
     "air heard", strong, plain, one_cylinder, Causes(gasket_between), nothing, "combustion-gas", practice,
     air_at_neighbour},
    {"air-at-one-place", "All the air that {} loses is heard at one place: the other ways out are closed.",
     "a leak-down reading, air heard at one place", supported, plain, nothing, nothing, leaks, "gauge-wet",
     practice, air_at_one_place},
    {"weak-but-tight",
     "{} is weak when cranked, yet holds its air when still: a question of valve lift or timing.",
     "weak by recording or gauge, and a good leak-down reading", supported, conflict, nothing, Causes(lift),
     nothing, "valve-lift", practice, weak_but_tight},
    {"leaks-but-compresses",
     "{} compresses like the others, yet leaks badly when still: either it was not at TDC of compression, or "
     "a valve had carbon under it, or the ring gaps were in line.",
     "sound by recording or gauge, and a bad leak-down reading", supported, conflict, nothing,
     Causes(reading), nothing, "leak-down-again", practice, leaks_but_compresses},
    {"leaks-everywhere",
     "{} all leak badly: more likely the crank was not at TDC of compression, or the tester reads wrong.",
     "leak-down readings of three cylinders", supported, conflict, nothing, Causes(reading), nothing,
     "leak-down-again", practice, leaks_everywhere},

    // Battery and starter.
    {"slow-and-sagging", "The engine cranks slowly while the battery sags: test the battery first.",
     "cranking speed, battery voltage while cranking", supported, plain, Causes(starter, drag),
     Causes(battery), nothing, "battery-test", manual_1999, slow_and_sagging},
    {"slow-but-firm", "The engine cranks slowly although the battery holds: starter, its leads, or drag.",
     "cranking speed, battery voltage while cranking", supported, plain, Causes(battery),
     Causes(starter, drag), Causes(battery), "turn-by-hand", manual_1999, slow_but_firm},
    {"slow-unexplained", "The engine cranks slowly, which lowers every compression reading.",
     "cranking speed without battery voltage", hint, plain, Causes(battery, starter, drag), nothing, nothing,
     "battery-test", practice, slow_unexplained},
    {"battery-sags", "The battery sags while cranking.", "battery voltage while cranking", hint, plain,
     Causes(starter), Causes(battery), nothing, "battery-test", manual_1999, sagging},

    // Manifold vacuum.
    {"vacuum-normal", "Manifold vacuum is steady and as high as usual.", "vacuum and needle at idle",
     supported, plain, nothing, nothing, Causes(valve_timing, intake_leak, valves), "gauge-one", practice,
     vacuum_normal},
    {"vacuum-fluctuates", "Manifold vacuum fluctuates: valves.", "needle at idle or 3000 rpm", supported,
     plain, Causes(intake_leak), Causes(valves), nothing, "leak-down-all", practice, vacuum_fluctuates},
    {"vacuum-agrees", "Manifold vacuum fluctuates, as a leaking valve in {} would make it.",
     "needle at idle or 3000 rpm, air heard past a valve", supported, plain, nothing,
     Causes(intake_valve, exhaust_valve, clearance), nothing, "valve-clearance", practice, vacuum_agrees},
    {"vacuum-low-steady", "Manifold vacuum is low but steady: air leaks into the intake.",
     "vacuum and needle at idle", supported, plain, Causes(valve_timing, worn_all), Causes(intake_leak),
     nothing, "intake-smoke", practice, vacuum_low_steady},
    {"vacuum-low-fluctuating", "Manifold vacuum fluctuates far below normal: a leak at the intake manifold.",
     "vacuum and needle at idle", supported, plain, Causes(valves), Causes(intake_leak), nothing,
     "intake-smoke", practice, vacuum_low_fluctuating},
    {"vacuum-falls", "Manifold vacuum falls while 3000 rpm is held: the exhaust is restricted.",
     "vacuum at idle and 3000 rpm", supported, plain, Causes(valve_timing), Causes(exhaust_restriction),
     nothing, "back-pressure", practice, vacuum_falls},
    {"vacuum-holds", "Manifold vacuum holds at 3000 rpm: the exhaust is free.", "vacuum at idle and 3000 rpm",
     supported, plain, nothing, nothing, nothing, "gauge-one", practice, vacuum_holds},
    {"vacuum-unclear", "Manifold vacuum as noted says nothing: both its level and its steadiness are needed.",
     "vacuum or needle alone, or a pair between the usual patterns", hint, plain, nothing, nothing, nothing,
     "vacuum-gauge", practice, vacuum_unclear},
    {"vacuum-on-diesel", "The vacuum readings are ignored: a diesel without a throttle makes almost none.",
     "vacuum of a diesel", hint, plain, nothing, nothing, nothing, "gauge-one", practice, vacuum_on_diesel},

    // Oil.
    {"oil-fine", "Oil pressure is as it should be.",
     "oil pressure, hot; only a hint without a mechanical gauge", supported, plain, nothing, nothing, nothing,
     "oil-mechanical", practice, oil_fine},
    {"oil-low", "Oil pressure is below the maker's figure on a mechanical gauge.",
     "oil pressure on a mechanical gauge, the maker's figure", strong, plain, nothing, Causes(oil_wear),
     nothing, "oil-level", "the maker's figure", oil_low},
    {"oil-low-by-sender",
     "Oil pressure reads below the maker's figure, but not on a mechanical gauge: a sender can be wrong.",
     "oil pressure, the maker's figure", hint, plain, Causes(oil_wear, oil_sender), nothing, nothing,
     "oil-mechanical", practice, oil_low_by_sender},
    {"oil-below-usual", "Oil pressure at 3000 rpm is below what is usual; the maker's figure decides.",
     "oil pressure at 3000 rpm without the maker's figure", hint, plain, Causes(oil_wear, oil_sender),
     nothing, nothing, "oil-mechanical", practice, oil_below_usual},
    {"oil-above-usual", "Oil pressure at 3000 rpm is above what is usual: relief valve, or oil too thick.",
     "oil pressure at 3000 rpm", hint, plain, Causes(oil_sender), Causes(oil_relief), nothing,
     "oil-mechanical", practice, oil_above_usual},
    {"oil-idle-needs-maker",
     "Oil pressure at idle means nothing without the maker's figure: a few psi can be within it.",
     "oil pressure at idle without the maker's figure", hint, plain, nothing, nothing, nothing,
     "oil-mechanical", practice, oil_idle_unjudged},
    {"oil-past-rings",
     "The engine uses oil, and evidence points to a cylinder's rings: the oil may burn there.",
     "oil use, and evidence for rings", hint, plain, nothing, nothing, nothing, "leak-down-all", practice,
     burns_oil},
    {"oil-elsewhere",
     "The engine uses oil although every cylinder holds its air: oil rings, valve stem seals, crankcase "
     "ventilation, or a leak to the outside.",
     "oil use, and a good leak-down reading of every cylinder", hint, plain, nothing, Causes(oil_elsewhere),
     nothing, "oil-level", practice, loses_oil},
    {"knocks-and-reads-high", "The engine knocks, and {} reads high: carbon raises compression.",
     "knocking, and a reading that is too high", hint, plain, nothing, Causes(carbon), nothing, "look-inside",
     practice, knocks},
};

}  // namespace

std::span<const Rule> rules() {
    return table;
}

}  // namespace evenstroke
