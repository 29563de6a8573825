// What rules ask of the evidence: limits, states, and the words for them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/evidence.hpp"
#include "values/pressure_factors.hpp"

namespace evenstroke::findings {

// Limits. The maker's figure wins wherever the worksheet holds one.

/// Lowest at least 75 % of the highest. Source: three vehicle service manuals (references.md G, PRINTED).
inline constexpr double usual_ratio_pct = 75;
/// Lowest at least 70 % of the highest, and at least 100 psi. Source: another maker's service pages, with the
/// worked vector 150 psi -> 105 psi (references.md G, PRINTED).
inline constexpr double least_ratio_pct = 70;
inline constexpr double least_compression_kpa = 100 * kpa_per_psi;
/// Where those two limits meet: an engine of theirs whose best cylinder reads less is held by the 100 psi
/// alone. Below this a reading that passes does not show that all are well: 110 psi is much for one engine
/// and late valve timing in another (common practice, no published source).
inline constexpr double plainly_high_kpa = least_compression_kpa / (least_ratio_pct / 100);  // 143 psi
/// How far a compression gauge's readings repeat. Common practice, no published source.
inline constexpr double gauge_repeat_pct = 3;
/// A reading that equals its limit passes; unit factors must not decide.
inline constexpr double rounding_share = 1e-6;
[[nodiscard]] constexpr bool below(double value, double limit) {
    return value < limit * (1 - rounding_share);
}
/// Leak-down bands: below 10 % good, to 20 % acceptable, to 30 % poor, above a fault. Common practice, from
/// memory (references.md G).
inline constexpr double leak_good_pct = 10;
inline constexpr double leak_acceptable_pct = 20;
inline constexpr double leak_fault_pct = 30;

enum class State { unknown, sound, between, weak };

[[nodiscard]] const CylinderReadings* readings_of(const Evidence& e, int cylinder);
/// Every cylinder that evidence names, ascending.
[[nodiscard]] std::vector<int> cylinders_of(const Evidence& e);
/// Named appearances of a cylinder in the recordings.
[[nodiscard]] std::vector<const RecordedCylinder*> recorded(const Evidence& e, int cylinder);
/// All cylinders of the recording are even.
[[nodiscard]] bool all_even(const RecordedEngine& recording);
/// Where all are even no name is needed to know it of each.
[[nodiscard]] bool recorded_as(const Evidence& e, int cylinder, Verdict verdict);

[[nodiscard]] std::optional<double> highest_dry_kpa(const Evidence& e);
/// Dry reading as a percentage of the highest; empty with fewer than two readings.
[[nodiscard]] std::optional<double> dry_ratio_pct(const Evidence& e, int cylinder);
/// By the ratio to the highest alone.
[[nodiscard]] State ratio_state(const Evidence& e, int cylinder);
/// The least compression allowed: the maker's, else 100 psi for spark ignition; empty for a diesel without.
[[nodiscard]] std::optional<double> floor_kpa(const Evidence& e);
[[nodiscard]] bool below_floor(const Evidence& e, int cylinder);
/// By ratio and floor together.
[[nodiscard]] State gauge_state(const Evidence& e, int cylinder);
/// Weak by ratio or recording; or below the floor while another cylinder is above it.
[[nodiscard]] bool is_suspect(const Evidence& e, int cylinder);
[[nodiscard]] std::vector<int> suspects(const Evidence& e);
/// Known to compress: sound by the gauge, or even in a recording.
[[nodiscard]] bool compresses(const Evidence& e, int cylinder);

/// Whether the leak-down loss is good, acceptable (between) or bad (weak).
[[nodiscard]] State leak_state(const Evidence& e, int cylinder);
[[nodiscard]] bool heard(const Evidence& e, int cylinder, AirPath path);

/// Wet over dry, percent above; empty without both, or on a diesel.
[[nodiscard]] std::optional<double> wet_rise_pct(const Evidence& e, int cylinder);
/// The median rise of the cylinders that are not suspect: oil fills part of any chamber; empty without one.
[[nodiscard]] std::optional<double> usual_wet_rise_pct(const Evidence& e);

/// The lowest over the recordings: those with a verdict for the speed; for the battery the worksheet too.
[[nodiscard]] std::optional<double> slowest_rpm(const Evidence& e);
[[nodiscard]] std::optional<double> cranking_v(const Evidence& e);
/// The battery before cranking: a recording's, else the worksheet's.
[[nodiscard]] std::optional<double> resting_v(const Evidence& e);

/// Words of evidence.
[[nodiscard]] std::string dry_words(const Evidence& e, int cylinder);
[[nodiscard]] std::string limit_words(const Evidence& e);
[[nodiscard]] std::string leak_words(const Evidence& e, int cylinder);
[[nodiscard]] std::string recorded_words(const RecordedEngine& recording, const RecordedCylinder& c);
/// "cylinder 3", "cylinders 1, 2 and 4", "the engine".
[[nodiscard]] std::string subject(const std::vector<int>& cylinders);

}  // namespace evenstroke::findings
