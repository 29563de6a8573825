// The words in which the summary and the page say a crank result: from the same values, written once.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/analyse.hpp"

namespace evenstroke::render {

/// "WEAK", "LOW" (an even engine with a cylinder below the others), "EVEN" or "NO VERDICT".
[[nodiscard]] std::string crank_word(const Findings& findings);
/// The word of the cylinder at `position` (from 0); unsure where nothing was judged.
[[nodiscard]] Verdict verdict_at(const Findings& findings, std::size_t position);

/// Whole percent; "n/a" when not known or not finite.
[[nodiscard]] std::string percent(std::optional<double> value);
/// "42 to 56", each end padded with blanks to `columns`; "n/a" when not known or not finite.
[[nodiscard]] std::string interval(const CylinderContribution& cylinder, int columns = 0);

/// What the losses look like, a line a cylinder, where the fit can tell.
[[nodiscard]] std::vector<std::string> loss_lines(const Analysis& analysis);
/// Peak gauge pressure with its interval, in kPa and in psi; "n/a" alone when not known or not finite.
[[nodiscard]] std::vector<std::string> peak_parts(const std::optional<Figure>& peak_kpa);

/// "197 rpm", "6 whole cycles", "inrush 630 A" …; empty when no cranking was located.
[[nodiscard]] std::vector<std::string> cranking_parts(const Analysis& analysis);
/// "loop resistance 16 mΩ (14 to 19)" …: what the fit tells of the starter and the engine's drag.
[[nodiscard]] std::vector<std::string> drive_parts(const DriveFigures& drive);
/// The recording's path; "standard input" for "-".
[[nodiscard]] std::string path_words(const Recording& recording);
/// Path, channel, why it was chosen, and the reference.
[[nodiscard]] std::string source(const Recording& recording, const Analysis& analysis);

/// Findings that neither the headline nor the cylinders' lines hold already, as sentences.
[[nodiscard]] std::vector<std::string> also_found(const Findings& findings);
/// The notices of every stage, as sentences.
[[nodiscard]] std::vector<std::string> notice_sentences(const Recording& recording, const Analysis& analysis);

}  // namespace evenstroke::render
