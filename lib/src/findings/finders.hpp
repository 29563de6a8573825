// What each rule of the table looks for. Pure functions from evidence to matches.
#pragma once

#include <vector>

#include "evenstroke/followup.hpp"

namespace evenstroke::findings::finds {

using Matches = std::vector<Match>;

// From recordings (finds_recording.cpp).
Matches no_evidence(const Evidence& e);
Matches no_verdict(const Evidence& e);
Matches weak_recorded(const Evidence& e);
Matches low_recorded(const Evidence& e);
Matches weak_unnamed(const Evidence& e);
Matches gauge_names(const Evidence& e);
Matches gauge_finds_none(const Evidence& e);
Matches half_turn_unknown(const Evidence& e);
Matches half_turn_settled(const Evidence& e);
Matches named_half_turn_off(const Evidence& e);
Matches recordings_disagree(const Evidence& e);
Matches leak_like(const Evidence& e);
Matches charge_like(const Evidence& e);
Matches relative_only(const Evidence& e);

// From the compression gauge (finds_gauge.cpp, finds_wet.cpp).
Matches weak_by_gauge(const Evidence& e);
Matches between_the_rules(const Evidence& e);
Matches below_the_floor(const Evidence& e);
Matches gauge_agrees(const Evidence& e);
Matches gauge_disagrees(const Evidence& e);
Matches gauge_disagrees_with_both(const Evidence& e);
Matches recording_misses(const Evidence& e);
Matches gauge_sound(const Evidence& e);
Matches absolute_fine(const Evidence& e);
Matches absolute_unclear(const Evidence& e);
Matches reads_high(const Evidence& e);
Matches one_stands_out(const Evidence& e);
Matches all_low(const Evidence& e);
Matches one_weak(const Evidence& e);
Matches weak_apart(const Evidence& e);
Matches weak_side_by_side(const Evidence& e);
Matches rows_unknown(const Evidence& e);
Matches puff_builds(const Evidence& e);
Matches puff_stays(const Evidence& e);
Matches wet_rises(const Evidence& e);
Matches wet_stays(const Evidence& e);
Matches wet_unclear(const Evidence& e);
Matches wet_on_diesel(const Evidence& e);
Matches all_rise_wet(const Evidence& e);
Matches all_stay_wet(const Evidence& e);

// From the leak-down test (finds_leak.cpp).
Matches leaks_badly(const Evidence& e);
Matches leak_confirms(const Evidence& e);
Matches leaks_some(const Evidence& e);
Matches leaks_little(const Evidence& e);
Matches air_at_intake(const Evidence& e);
Matches air_at_exhaust(const Evidence& e);
Matches air_at_crankcase(const Evidence& e);
Matches air_in_coolant(const Evidence& e);
Matches air_at_neighbour(const Evidence& e);
Matches air_at_one_place(const Evidence& e);
Matches weak_but_tight(const Evidence& e);
Matches leaks_but_compresses(const Evidence& e);
Matches leaks_everywhere(const Evidence& e);

// Battery and starter, vacuum, oil (finds_engine.cpp, finds_vacuum.cpp).
Matches slow_and_sagging(const Evidence& e);
Matches slow_but_firm(const Evidence& e);
Matches slow_unexplained(const Evidence& e);
Matches sagging(const Evidence& e);
Matches vacuum_normal(const Evidence& e);
Matches vacuum_fluctuates(const Evidence& e);
Matches vacuum_agrees(const Evidence& e);
Matches vacuum_low_steady(const Evidence& e);
Matches vacuum_low_fluctuating(const Evidence& e);
Matches vacuum_falls(const Evidence& e);
Matches vacuum_holds(const Evidence& e);
Matches vacuum_unclear(const Evidence& e);
Matches vacuum_on_diesel(const Evidence& e);
Matches oil_fine(const Evidence& e);
Matches oil_low(const Evidence& e);
Matches oil_low_by_sender(const Evidence& e);
Matches oil_below_usual(const Evidence& e);
Matches oil_above_usual(const Evidence& e);
Matches oil_idle_unjudged(const Evidence& e);
Matches burns_oil(const Evidence& e);
Matches loses_oil(const Evidence& e);
Matches knocks(const Evidence& e);

}  // namespace evenstroke::findings::finds
