// Recordings of an invented engine with their truth, from a time-domain model of gas, crank and starter.
// What is modelled, and from what general knowledge the numbers come, stands in docs/synth.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "evenstroke/angle.hpp"
#include "evenstroke/cranking.hpp"
#include "evenstroke/engine.hpp"
#include "evenstroke/recording.hpp"
#include "evenstroke/synth_truth.hpp"

namespace evenstroke {

/// What can be wrong with a cylinder; the unit of `SynthFault::amount` in brackets.
enum class FaultKind {
    rings,          ///< leak to the crankcase [mm²]
    intake_valve,   ///< leak to the intake [mm²]
    exhaust_valve,  ///< leak to the exhaust [mm²]
    gasket,         ///< leak to another cylinder [mm²]
    ratio,   ///< compression ratio lost, as by a bent rod [% of the ratio]; negative: raised, as by carbon
    charge,  ///< trapped volume lost by an intake that closes late, as by a worn cam [% of the volume]
    exhaust_lift,  ///< exhaust valve's lift lost, as by a broken rocker: at 100 it stays shut [%]
};

/// "rings", "intake-valve", "exhaust-valve", "gasket", "ratio", "charge", "exhaust-lift".
[[nodiscard]] const char* name(FaultKind kind);
/// The kind of that name; empty when there is none.
[[nodiscard]] std::optional<FaultKind> find_fault_kind(std::string_view text);
/// Whether the kind's unit is per cent; else it is mm² of a leak.
[[nodiscard]] bool counts_in_percent(FaultKind kind);
/// An amount that a technician would call a clear fault, in the kind's unit.
[[nodiscard]] double usual_amount(FaultKind kind);

struct SynthFault {
    int position = 0;  ///< from 0, in firing sequence
    FaultKind kind = FaultKind::rings;
    double amount = 0;             ///< in the kind's unit
    std::optional<int> neighbour;  ///< position at the other side of a gasket leak; empty: the next fired
};

/// Valve events of one cylinder that differ from its engine's. Angles after firing TDC, as in `SynthEngine`.
struct SynthTiming {
    int position = 0;  ///< from 0, in firing sequence
    std::optional<double> intake_closes_deg;
    std::optional<double> exhaust_opens_deg;
};

struct SynthEngine {
    EngineLayout layout;
    Geometry geometry;
    std::vector<SynthFault> faults;
    std::vector<SynthTiming> timing;  ///< later entries win
    double speed_rpm = 200;           ///< mean cranking speed aimed at; the truth says what came out
    double friction_kpa = 130;  ///< friction mean effective pressure near that speed, without the rings' part
    double inertia_kg_m2 = 0.18;     ///< crank, flywheel and what turns with them
    double second_mass_kg_m2 = 0;    ///< of a dual-mass flywheel, behind its springs; 0: it is of one piece
    double spring_nm_per_rad = 700;  ///< of those springs, both ways
    double spring_damping_nm_s = 1;  ///< of their grease
    double spring_friction_nm = 3;   ///< of their dry guides
    double piston_kg = 0.5;          ///< mass that goes up and down, one cylinder
    double valvetrain_nm = 1.0;      ///< peak torque of one cylinder's valve springs at the crank
    double intake_opens_deg = 350;   ///< after firing TDC, as all four
    double intake_closes_deg = 605;  ///< 605 is 65 degrees after bottom, seat to seat
    double exhaust_opens_deg = 130;
    double exhaust_closes_deg = 370;
    double leak_mm2 = 0.2;           ///< past the rings of a healthy cylinder
    double wall_k = 315;             ///< walls of the cylinder
    double air_k = 293;              ///< outside and intake
    double ambient_kpa = 99;         ///< outside, exhaust and crankcase, absolute
    double throttle_mm2 = 0;         ///< opening before a common intake plenum; 0: no plenum, open intake
    double plenum_l = 3;             ///< volume of that plenum
    double spread_pct = 0.8;         ///< make-to-make spread (sd) of ratio, timing and friction
    double cycle_spread_pct = 0.6;   ///< cycle-to-cycle spread (sd) of the trapped charge
    double friction_wander_pct = 2;  ///< slow wander (sd) of friction, about a second long
    double pump_nm = 0;              ///< peak torque of a pump with one lobe for every firing
};

enum class StarterKind { permanent_magnet, series };

[[nodiscard]] const char* name(StarterKind kind);

/// The starter, seen at the crank where the name says so. Its torque constant follows from the speed aimed
/// at.
struct SynthStarter {
    StarterKind kind = StarterKind::permanent_magnet;
    double resistance_mohm = 8;           ///< armature, brushes' metal and field
    double inductance_uh = 40;            ///< of the whole loop
    double brush_v = 0.9;                 ///< drop across both brushes at high current
    double saturation_a = 180;            ///< current at which a series field reaches 63 % of its flux
    double ratio = 45;                    ///< rotor turns for one of the crank
    double rotor_inertia_kg_m2 = 1.2e-4;  ///< of the rotor itself, before the ratio
    double efficiency_ratio = 0.85;       ///< of gears and bearings
    double clutch_nm_per_rad = 9000;      ///< give of the one-way clutch and nose, at the crank
    double clutch_damping_nm_s = 12;
    int bars = 28;            ///< of the commutator
    double ripple_pct = 1.2;  ///< commutation ripple, of the current
};

struct SynthBattery {
    double open_v = 12.6;
    double resistance_mohm = 5;
    double sag_mohm = 3;    ///< further resistance that builds up while current flows
    double sag_s = 0.8;     ///< with this time constant
    double cable_mohm = 3;  ///< cables and contacts, both ways
};

/// Times on the recording's axis, which begins at 0.
struct SynthRun {
    double duration_s = 6;
    double engage_s = 0.3;                       ///< key on
    double stop_s = 5.5;                         ///< key released, or the first charge fires
    CrankingEnd ends_by = CrankingEnd::release;  ///< recording_end: stop_s is not used
    double start_angle_deg = 200;                ///< crank at rest, after position 0's firing TDC
};

enum class SyncKind { none, once_per_cycle, once_per_turn };
enum class WheelKind { none, edges, analog };

/// What stands in the plug hole and how its reading becomes the channel "Pressure":
/// true pressure, lag, offset, drift and noise, range, polarity, unit, in this order.
struct SynthTransducer {
    bool gauge = false;  ///< reads above the outside instead of absolute
    /// A compression gauge: a check valve lets air into its hose and holds it there. It reads gauge whatever
    /// `gauge` says, and what it takes the cylinder lacks (docs/synth.md).
    bool check_valve = false;
    std::optional<double> bandwidth_hz;  ///< -3 dB, first order; empty: fast
    double drift_kpa_per_s = 0;
    std::optional<double> limit_kpa;  ///< readings clip here, both signs
    bool reversed = false;            ///< the leads are the wrong way round
    std::string unit = "kPa";         ///< of pressure, as units.hpp knows it, or "V"
    double kpa_per_v = 500;           ///< with the unit V
    double zero_v = 0;                ///< with the unit V: shown at a reading of 0 kPa
};

/// What lies between the engine and the file.
struct SynthChain {
    double rate_hz = 10'000;
    bool current = true;  ///< which channels are recorded
    bool battery = true;
    double gain_error_pct = 0;
    double offset_a = 0;
    double drift_a_per_s = 0;
    double noise_a = 1.5;          ///< sd
    double bandwidth_hz = 20'000;  ///< of the clamp, first order
    double hum_a = 0;
    double hum_hz = 50;
    double spikes_per_s = 0;         ///< single samples thrown off by up to 300 A
    double limit_a = 1000;           ///< the clamp or the range clips here, both signs
    double battery_range_v = 20;     ///< of the battery channel, both ways
    bool reversed = false;           ///< the clamp is on the wrong way round
    std::optional<double> mv_per_a;  ///< recorded in mV at this factor, instead of A
    double battery_noise_v = 0.01;   ///< sd
    int adc_bits = 14;               ///< over +-limit; the battery's range, 20 V for levels
    SyncKind sync = SyncKind::once_per_cycle;
    double sync_lead_deg = 0;  ///< crank degrees from the sync's rising edge to position 0's TDC
    double sync_width_deg = 20;
    WheelKind wheel = WheelKind::none;  ///< edges: the recording holds edge channels and nothing else
    WheelPattern pattern;               ///< needed for a wheel
    double wheel_lead_deg = 84;         ///< from the first tooth of the pattern to position 0's TDC, mod 360
    double tooth_error_deg = 0.02;      ///< sd of every tooth's place
    double edge_jitter_s = 2e-6;        ///< sd of every edge's time
    double wheel_v = 2.0;               ///< amplitude of an analog wheel at 200 rpm
    double wheel_limit_v = 10;          ///< clips there
    bool cam = false;                   ///< one pulse a cycle beside the wheel
    std::optional<int> pressure_position;  ///< also record this cylinder's pressure, as `transducer` says
    double pressure_offset_kpa = 0;        ///< reading less true
    double pressure_noise_kpa = 2;         ///< sd
    SynthTransducer transducer;
};

struct SynthOptions {
    SynthEngine engine;
    SynthStarter starter;
    SynthBattery battery;
    SynthRun run;
    SynthChain chain;
};

struct SynthResult {
    Recording recording;
    SynthTruth truth;
};

/// Runs the engine and records it. Equal options and seed give equal values. Throws Error{bad_engine} or
/// Error{bad_option} for what cannot be run, Error{unusable} when the engine would not turn two whole cycles.
[[nodiscard]] SynthResult synthesise(const SynthOptions& options, std::uint64_t seed);

/// The families that draw_engine knows: "four", "six-odd", "diesel-four", "starts",
/// "dual-mass", …
[[nodiscard]] std::vector<std::string> synth_families();

/// A random plausible engine, starter, battery, measuring chain and (two times in three) fault. Equal seed
/// and family give equal options. Throws Error{bad_option} for an unknown family.
[[nodiscard]] SynthOptions draw_engine(std::uint64_t seed, std::string_view family);

/// The truth as a JSON document (docs/synth.md), two-space indented, newline at the end.
[[nodiscard]] std::string truth_json(const SynthOptions& options, std::uint64_t seed,
                                     const SynthTruth& truth);

/// How a recording is written as text.
struct TextDialect {
    char separator = ',';
    bool decimal_comma = false;
    bool units_row = false;             ///< units in a row of their own instead of behind the names
    bool milliseconds = false;          ///< time in ms instead of s
    std::vector<std::string> preamble;  ///< lines before the header
    int digits = 5;                     ///< significant digits of a value
};

/// The recording as text: a header, then one row a sample, or one row a transition for edge channels.
[[nodiscard]] std::string recording_text(const Recording& recording, const TextDialect& dialect);

enum class AudioFormat { wav, flac };

/// The sampled channels as an audio file's bytes, 16 bits, each value divided by its channel's full scale.
/// `full_scale`: [channels], in the channel's unit, > 0. Throws Error{unsupported} for edges, and for more
/// channels or another rate than the format holds; `name` stands for the file in them.
[[nodiscard]] std::string recording_audio(const Recording& recording, const std::vector<double>& full_scale,
                                          AudioFormat format, const std::string& name = "audio");

}  // namespace evenstroke
