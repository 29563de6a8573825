#include "follow_up_outcome.hpp"

#include <algorithm>
#include <utility>

#include "measures.hpp"
#include "sentences.hpp"

namespace evenstroke::findings {

namespace {

/// Some cause of trouble stands; a doubtful reading alone does not count, nor does what all cylinders may
/// share as long as they may as well share nothing.
bool is_trouble(const Diagnosis& d) {
    Causes left = standing(d.rivals).without(Causes(Cause::reading));
    if (left.has(Cause::sound))
        left = left.without(
            Causes(Cause::sound, Cause::worn_all, Cause::washed_all, Cause::valve_timing, Cause::throttle));
    return !left.empty();
}

bool says(const FollowUp& result, const std::string& code) {
    return std::any_of(result.findings.begin(), result.findings.end(),
                       [&](const JudgedFinding& f) { return f.rule->code == code; });
}

bool has_conflict(const FollowUp& result) {
    return std::any_of(result.findings.begin(), result.findings.end(),
                       [](const JudgedFinding& f) { return f.rule->conflict; });
}

/// Compression is known in absolute terms, and every cylinder is known to be as good as the others.
bool is_sound(const Evidence& evidence, const FollowUp& result) {
    const auto all = cylinders_of(evidence);
    return says(result, "absolute-fine") && !has_conflict(result) &&
           std::all_of(all.begin(), all.end(), [&](int c) {
               return compresses(evidence, c) || leak_state(evidence, c) == State::sound;
           });
}

void set_no_verdict(FollowUp& result) {
    for (const auto& f : result.findings)
        if (f.rule->conflict) return leave_open(result, f.text);
    if (says(result, "relative-only"))
        return leave_open(result, "the cylinders are alike, but an absolute reading is missing.",
                          no_verdict_yet);
    if (says(result, "absolute-unclear"))
        return leave_open(result, "nothing is below a known limit, but the maker's figure is missing.",
                          no_verdict_yet);
    for (const auto& f : result.findings)
        for (const std::string code : {"between-published-limits", "low-in-recording", "leaks-some"})
            if (f.rule->code == code) return leave_open(result, f.text, no_verdict_yet);
    leave_open(result, "too little was measured.");
}

/// Nothing is known of the cylinder but that it is one of two, one of which is weak.
bool one_of_two(const FollowUp& result, const Diagnosis& d) {
    bool found = false;
    for (const auto& f : result.findings) {
        if (std::count(f.cylinders.begin(), f.cylinders.end(), d.cylinder.value_or(0)) == 0) continue;
        const bool this_one = f.rule->code == std::string("weak-half-turn-unknown");
        if (!this_one && !f.rule->opens.empty()) return false;
        found = found || this_one;
    }
    return found;
}

/// Each trouble once, with all cylinders that it is said of: "Cylinders 2 and 3: evidence points to ...".
std::string troubles(const FollowUp& result) {
    std::vector<std::pair<std::string, std::vector<int>>> said;
    for (const auto& d : result.diagnoses) {
        if (!is_trouble(d) || one_of_two(result, d)) continue;
        const std::string words = d.text.substr(d.text.find(": "));
        const auto same = std::find_if(said.begin(), said.end(), [&](const auto& s) {
            return s.first == words && d.cylinder && !s.second.empty();
        });
        if (same != said.end())
            same->second.push_back(*d.cylinder);
        else
            said.emplace_back(words, d.cylinder ? std::vector{*d.cylinder} : std::vector<int>{});
    }
    std::string text;
    for (const auto& f : result.findings)
        if (f.rule->code == std::string("weak-half-turn-unknown")) text += (text.empty() ? "" : " ") + f.text;
    for (const auto& [words, cylinders] : said)
        text += (text.empty() ? "" : " ") + capitalised(subject(cylinders)) + words;
    return text;
}

}  // namespace

Causes standing(const std::vector<Rival>& rivals) {
    Causes left;
    for (const auto& rival : rivals)
        if (rival.standing != Rival::Standing::removed) left = left.with(Causes(rival.cause));
    return left;
}

FollowUpOutcome outcome_of(const Evidence& evidence, const FollowUp& result) {
    const bool unnamed = says(result, "weak-without-name") && !says(result, "gauge-finds-none");
    if (unnamed || std::any_of(result.diagnoses.begin(), result.diagnoses.end(), is_trouble))
        return FollowUpOutcome::suspect;
    return is_sound(evidence, result) ? FollowUpOutcome::sound : FollowUpOutcome::inconclusive;
}

void set_headline(FollowUp& result) {
    if (result.outcome == FollowUpOutcome::inconclusive) return set_no_verdict(result);
    if (result.outcome == FollowUpOutcome::sound) {
        result.headline = "What was measured is sound; nothing speaks against it.";
        return;
    }
    const std::string text = troubles(result);
    result.headline = text.empty() ? "A cylinder is weak, but not named." : text;
}

}  // namespace evenstroke::findings
