// How fast and how slow an engine is cranked, and what follows for the times between its compressions.
// Private.
//
// Common practice, no published source. Each limit serves another question, so that they differ.
#pragma once

namespace evenstroke {

/// What a starter usually turns an engine at with its plugs in: outside, the user is asked to look again.
inline constexpr double usual_least_rpm = 100, usual_most_rpm = 350;

/// Beyond this no starter turns even a warm engine with its plugs in: it runs, or is driven.
inline constexpr double fastest_cranking_rpm = 450;
/// A cylinder with a transducer has its own plug out, often the others too, and is turned faster by as much;
/// between this speed and the slowest at which an engine runs the shape of the pulses decides whether it
/// fires.
inline constexpr double fastest_unplugged_rpm = 600, slowest_running_rpm = 400;
/// The marks of what the user calls a sync: even twice the fastest cranking, of a mark that comes twice as
/// often as it should, stays below this, so that what is above is no sync.
inline constexpr double fastest_sync_rpm = 1000;

/// The slowest for which the compressions alone are searched. A slower one would more often let two cycles
/// pass for one.
inline constexpr double slowest_searched_rpm = 55;
/// A cold diesel on a weak battery still turns at some 50 rpm: whatever the unit of time, a wheel that seems
/// to turn so much slower has another.
inline constexpr double slowest_believed_rpm = 20;

/// Shortest time between two compressions: 16 cylinders at a little above the fastest cranking, s.
inline constexpr double shortest_event_s = 0.016;
/// Longest time between two compressions where a channel is looked at for what it may be: one cylinder at 45
/// rpm. A channel that is taken for nothing is lost, so the margin is wide.
inline constexpr double longest_event_s = 2.7;
/// … and in a load that is known to be one, where whole windows of it must fit into the recording: one
/// cylinder at 50 rpm.
inline constexpr double longest_repeat_s = 2.4;

}  // namespace evenstroke
