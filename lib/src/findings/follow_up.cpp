// The rules applied: findings, what is left of the rivals, and which test comes next.
#include <fmt/core.h>

#include <algorithm>
#include <set>

#include "evenstroke/followup.hpp"
#include "follow_up_outcome.hpp"
#include "measures.hpp"
#include "sentences.hpp"
#include "test_table.hpp"

namespace evenstroke {

namespace {

using findings::capitalised;
using findings::standing;
using findings::subject;

/// More tests than this at once are no help.
constexpr std::size_t most_tests = 3;

Strength weaker(Strength strength) {
    return strength == Strength::strong ? Strength::supported : Strength::hint;
}

std::vector<JudgedFinding> apply(const Evidence& evidence, std::span<const Rule> table) {
    std::vector<JudgedFinding> found;
    for (const Rule& rule : table)
        for (auto& match : rule.find(evidence)) {
            std::string text = rule.says;
            const std::string placeholder = "{}";
            const auto at = text.find(placeholder);
            if (at != std::string::npos) text.replace(at, placeholder.size(), subject(match.cylinders));
            const Strength strength = match.close ? weaker(rule.strength) : rule.strength;
            // A hint takes nothing off; the table says the most that a match may take off.
            const Causes removes = strength == Strength::hint
                                       ? Causes()
                                       : match.removes.value_or(rule.removes).both(rule.removes);
            found.push_back({.rule = &rule,
                             .cylinders = match.cylinders,
                             .text = capitalised(text),
                             .evidence = std::move(match.evidence),
                             .strength = strength,
                             .removes = removes});
        }
    return found;
}

bool concerns(const JudgedFinding& finding, std::optional<int> cylinder) {
    if (!cylinder) return finding.cylinders.empty();
    return std::find(finding.cylinders.begin(), finding.cylinders.end(), *cylinder) !=
           finding.cylinders.end();
}

/// What the findings about one subject list, and what they take off.
struct Tally {
    Causes listed;
    Causes removed;
};

Tally tally(const std::vector<JudgedFinding>& found, std::optional<int> cylinder) {
    Tally t;
    for (const auto& f : found) {
        if (!concerns(f, cylinder)) continue;
        t.listed = t.listed.with(f.rule->opens).with(f.rule->points_to);
        t.removed = t.removed.with(f.removes);
    }
    return t;
}

/// A finding that points to several causes means one of them: it speaks for a cause that others remove only
/// when all of them are removed, and then there is a conflict.
bool speaks_for(const JudgedFinding& f, Cause cause, Causes removed) {
    if (!f.rule->points_to.has(cause)) return false;
    return !removed.has(cause) || f.rule->points_to.without(removed).empty();
}

std::vector<Rival> rivals_of(const std::vector<JudgedFinding>& found, std::optional<int> cylinder) {
    const Tally t = tally(found, cylinder);
    std::vector<Rival> rivals;
    for (const Cause cause : t.listed.list()) {
        Rival rival{.cause = cause, .standing = Rival::Standing::possible, .by = {}};
        bool pointed = false;
        for (const auto& f : found) {
            if (!concerns(f, cylinder)) continue;
            const bool for_it = speaks_for(f, cause, t.removed);
            pointed = pointed || for_it;
            if (for_it || f.removes.has(cause)) rival.by.emplace_back(f.rule->code);
        }
        const bool removed = t.removed.has(cause);
        if (pointed) rival.standing = removed ? Rival::Standing::conflicting : Rival::Standing::pointed_at;
        if (removed && !pointed) rival.standing = Rival::Standing::removed;
        rivals.push_back(std::move(rival));
    }
    return rivals;
}

std::vector<Rival> with(const std::vector<Rival>& rivals, Rival::Standing standing) {
    std::vector<Rival> some;
    std::copy_if(rivals.begin(), rivals.end(), std::back_inserter(some),
                 [=](const Rival& r) { return r.standing == standing; });
    return some;
}

/// Some causes hold an "or" of their own.
std::string joined(const std::vector<Rival>& rivals) {
    std::string text;
    for (std::size_t i = 0; i < rivals.size(); ++i) {
        const bool last = i + 1 == rivals.size();
        if (i > 0) text += last && rivals.size() == 2 ? " or " : last ? ", or " : ", ";
        text += words(rivals[i].cause);
    }
    return text;
}

/// A sentence inside a text begins with a capital after a full stop.
std::string sentence_start(const std::string& before, const char* words) {
    return before.ends_with(". ") ? capitalised(words) : words;
}

std::string said(std::vector<Rival> rivals, std::optional<int> cylinder) {
    // That the cylinders share no loss is worth a sentence only where nothing else is.
    const auto shared_nothing = [](const Rival& r) { return r.cause == Cause::sound; };
    if (std::count_if(rivals.begin(), rivals.end(),
                      [](const Rival& r) { return r.standing != Rival::Standing::removed; }) > 1 &&
        !with(rivals, Rival::Standing::pointed_at).empty())
        std::erase_if(rivals, shared_nothing);
    const auto pointed = with(rivals, Rival::Standing::pointed_at);
    const auto open = with(rivals, Rival::Standing::possible);
    const auto disputed = with(rivals, Rival::Standing::conflicting);
    std::string text = capitalised(cylinder ? fmt::format("cylinder {}", *cylinder) : "the engine") + ": ";
    if (!pointed.empty()) text += "evidence points to " + joined(pointed) + ". ";
    if (!disputed.empty())
        text += sentence_start(text, "evidence disagrees about ") + joined(disputed) + ". ";
    if (!open.empty())
        text += (pointed.empty() && disputed.empty() ? "may be " : "Not excluded: ") + joined(open) + ". ";
    if (pointed.empty() && open.empty() && disputed.empty())
        text += "every cause that was considered is excluded: a measurement must be wrong. ";
    text.pop_back();
    return text;
}

bool separates(const SeparatingTest& test, Causes rivals) {
    return std::count_if(test.groups.begin(), test.groups.end(),
                         [&](Causes group) { return group.has_any(rivals); }) >= 2;
}

/// Nothing is left to tell apart: what would confirm the cause that is pointed at.
std::vector<std::string> confirming(const Evidence& evidence, const std::vector<JudgedFinding>& found,
                                    const std::vector<Rival>& rivals, std::optional<int> cylinder,
                                    std::span<const int> asked) {
    for (const auto& f : found) {
        if (!concerns(f, cylinder) ||
            !f.rule->points_to.has_any(standing(rivals).without(Causes(Cause::sound))))
            continue;
        for (const auto& test : separating_tests())
            if (std::string_view(test.code) == f.rule->next && !test.settled(evidence, asked))
                return {test.code};
    }
    return {};
}

std::vector<std::string> tests_for(const Evidence& evidence, const std::vector<JudgedFinding>& found,
                                   const std::vector<Rival>& rivals, std::optional<int> cylinder) {
    std::vector<int> asked;
    if (cylinder) asked.push_back(*cylinder);
    std::vector<std::string> codes;
    for (const auto& test : separating_tests())
        if (separates(test, standing(rivals)) && !test.settled(evidence, asked) && codes.size() < most_tests)
            codes.emplace_back(test.code);
    return codes.empty() ? confirming(evidence, found, rivals, cylinder, asked) : codes;
}

std::vector<Diagnosis> diagnose(const Evidence& evidence, const std::vector<JudgedFinding>& found) {
    std::set<int> cylinders;
    for (const auto& f : found) cylinders.insert(f.cylinders.begin(), f.cylinders.end());
    std::vector<std::optional<int>> subjects(cylinders.begin(), cylinders.end());
    subjects.emplace_back();
    std::vector<Diagnosis> all;
    for (const auto& cylinder : subjects) {
        Diagnosis d{.cylinder = cylinder, .text = {}, .rivals = rivals_of(found, cylinder), .next_tests = {}};
        if (d.rivals.empty()) continue;
        d.text = said(d.rivals, cylinder);
        d.next_tests = tests_for(evidence, found, d.rivals, cylinder);
        all.push_back(std::move(d));
    }
    return all;
}

/// Whether a finding says that a measurement is in doubt: that one is repeated before anything else.
bool doubts_a_reading(const JudgedFinding& f) {
    return f.rule->conflict && f.rule->points_to.has(Cause::reading);
}

/// The test, said of the cylinders that it is wanted for.
NextTest suggested_for(const SeparatingTest& test, const FollowUp& result) {
    const auto wants = [&](const auto& codes) {
        return std::find(codes.begin(), codes.end(), test.code) != codes.end();
    };
    std::set<int> of;
    for (const auto& d : result.diagnoses)
        if (d.cylinder && wants(d.next_tests)) of.insert(*d.cylinder);
    if (of.empty())
        for (const auto& f : result.findings)
            if (test.code == std::string_view(f.rule->next))
                of.insert(f.cylinders.begin(), f.cylinders.end());
    const std::string who = of.empty() ? "each low cylinder" : subject({of.begin(), of.end()});
    return findings::suggested(test.code, {.who = (of.size() > 1 ? "each of " : "") + who});
}

/// Tests of all diagnoses and of findings that carry no rivals: doubts first, then cheapest first.
std::vector<NextTest> next_tests(const Evidence& evidence, const FollowUp& result) {
    std::set<std::string> wanted;
    for (const auto& d : result.diagnoses) wanted.insert(d.next_tests.begin(), d.next_tests.end());
    const bool nothing_left = wanted.empty();
    std::set<std::string> urgent;
    for (const auto& f : result.findings)
        if (doubts_a_reading(f)) urgent.insert(f.rule->next);
    wanted.insert(urgent.begin(), urgent.end());
    for (const auto& f : result.findings) {
        const bool alone = f.rule->opens.empty() && f.rule->points_to.empty() && f.removes.empty();
        if (alone && (nothing_left || f.rule->strength == Strength::hint)) wanted.insert(f.rule->next);
    }
    // One more recording is enough: with the better mark, where that is wanted.
    if (wanted.contains("repeat-with-sync")) wanted.erase("repeat-recording");
    std::vector<NextTest> tests;
    for (const auto& test : separating_tests()) {
        if (!wanted.contains(test.code)) continue;
        const bool asked = std::any_of(result.diagnoses.begin(), result.diagnoses.end(), [&](const auto& d) {
            return std::find(d.next_tests.begin(), d.next_tests.end(), test.code) != d.next_tests.end();
        });
        if (asked || !test.settled(evidence, {})) tests.push_back(suggested_for(test, result));
    }
    std::set<std::string> by_diagnosis;
    for (const auto& d : result.diagnoses) by_diagnosis.insert(d.next_tests.begin(), d.next_tests.end());
    std::stable_partition(tests.begin(), tests.end(),
                          [&](const NextTest& test) { return by_diagnosis.contains(test.code); });
    std::stable_partition(tests.begin(), tests.end(),
                          [&](const NextTest& test) { return urgent.contains(test.code); });
    return tests;
}

/// Nothing else to ask for, and no verdict: the test that needs nothing known before.
std::vector<NextTest> gauge_everywhere(const Evidence& evidence) {
    for (const auto& test : separating_tests())
        if (std::string_view(test.code) == "gauge-dry" && !test.settled(evidence, {}))
            return {findings::suggested(test.code)};
    return {};
}

}  // namespace

FollowUp follow_up(const Evidence& evidence, std::span<const Rule> table) {
    FollowUp result;
    result.findings = apply(evidence, table);
    result.diagnoses = diagnose(evidence, result.findings);
    result.next_tests = next_tests(evidence, result);
    result.outcome = findings::outcome_of(evidence, result);
    if (result.outcome == FollowUpOutcome::inconclusive && result.next_tests.empty())
        result.next_tests = gauge_everywhere(evidence);
    findings::set_headline(result);
    result.cautions = findings::cautions_of(result.next_tests);
    return result;
}

}  // namespace evenstroke
