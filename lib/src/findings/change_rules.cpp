#include "change_rules.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/followup.hpp"
#include "sentences.hpp"
#include "test_table.hpp"

namespace evenstroke::findings {

namespace {

/// `open`: not beyond chance, and a rise that would count as clear is not excluded either.
enum class Direction { up, down, none, open };

/// One reading of a change. `weak_before`: only for a cylinder that may have been weak in the first
/// recording.
struct ChangeRule {
    Between between;
    Direction direction;
    bool weak_before;
    const char* code;
    const char* says;  ///< {} stands for the cylinder
    const char* next;  ///< code of a separating test
};

// Common practice, no published source, but for "wet rises -> rings", which service pages print
// (references.md G).
constexpr ChangeRule table[] = {
    {Between::not_said, Direction::up, false, "rises", "{} compresses more than before.", "gauge-dry"},
    {Between::not_said, Direction::down, false, "falls", "{} compresses less than before.", "gauge-dry"},
    {Between::oil, Direction::up, false, "oil-raises",
     "{} rises with oil in the cylinder: rings or bore, if the oil went into this cylinder alone.",
     "run-warm"},
    {Between::oil, Direction::none, true, "oil-does-not-raise",
     "{} does not rise with oil, if the oil went into it: look above the rings, at valves and gasket.",
     "leak-down"},
    {Between::oil, Direction::open, true, "oil-unclear",
     "The intervals do not show whether {} rises with oil in it: a gauge will, dry and wet.", "gauge-wet"},
    {Between::oil, Direction::down, false, "oil-and-falls",
     "{} falls although oil was added: oil does not lower compression, so something else changed.",
     "repeat-recording"},
    {Between::warming, Direction::up, false, "tighter-warm",
     "{} is tighter when warm: rings that seal late, or a valve that seats with the heat.", "leak-down"},
    {Between::warming, Direction::down, false, "weaker-warm",
     "{} is weaker when warm: a valve that loses its clearance with the heat is held open.",
     "valve-clearance"},
    {Between::repair, Direction::up, false, "repair-helped", "{} compresses more after the repair.",
     "gauge-dry"},
    {Between::repair, Direction::none, true, "repair-did-not-help",
     "{} was weak, or may have been, and the repair has not changed it beyond chance.", "leak-down"},
    {Between::repair, Direction::open, true, "repair-unclear",
     "The intervals do not show whether {} compresses more after the repair: a gauge will.", "gauge-dry"},
    {Between::repair, Direction::down, false, "repair-harmed", "{} compresses less after the repair.",
     "gauge-dry"},
    {Between::time, Direction::down, false, "getting-worse",
     "{} has lost compression since the first recording.", "leak-down"},
    {Between::time, Direction::up, false, "getting-better",
     "{} compresses more than it did: carbon, or different cranking conditions.", "repeat-recording"},
};

/// A rise of this share of the first value is a clear one: as of a gauge (common practice, no published
/// source).
constexpr double clear_rise_share = 0.1;

bool may_be_weak(const RecordedCylinder& c, double weak_below_pct) {
    return c.verdict == Verdict::weak || (c.contribution_pct && c.contribution_pct->low < weak_below_pct);
}

/// A repair that helped leaves no weak cylinder.
Direction direction_of(const Change& change, Between between, double weak_below_pct) {
    if (change.beyond_chance) return change.change_pct->value > 0 ? Direction::up : Direction::down;
    const double first_pct = *change.first_pct;
    const double most_pct = change.change_pct->high;
    const bool may_rise = most_pct >= clear_rise_share * first_pct;
    const bool may_suffice = between != Between::repair || first_pct + most_pct >= weak_below_pct;
    return may_rise && may_suffice ? Direction::open : Direction::none;
}

/// Cycles beyond which more of them narrow an interval little (common practice, no published source).
constexpr int few_cycles = 4;
// What counts as cranked differently: this project's definitions.
constexpr double speed_differs_share = 0.1;
constexpr double battery_differs_v = 0.5;

}  // namespace

void judge_changes(Comparison& comparison, const ComparedRecording& first) {
    const double weak_below_pct = first.engine.weak_below_pct;
    std::vector<std::string> wanted;
    for (std::size_t i = 0; i < comparison.changes.size(); ++i) {
        const Change& change = comparison.changes[i];
        if (!change.change_pct) continue;
        const bool was_weak = may_be_weak(first.engine.cylinders[i], weak_below_pct);
        for (const ChangeRule& rule : table) {
            if (rule.between != comparison.between ||
                rule.direction != direction_of(change, comparison.between, weak_below_pct))
                continue;
            if (rule.weak_before && !was_weak) continue;
            comparison.findings.push_back(
                {rule.code,
                 capitalised(fmt::format(fmt::runtime(rule.says), change.label)),
                 {fmt::format("{}: {:.0f} to {:.0f} %, change {:+.1f} points ({:+.1f} to {:+.1f}), p {:.2g} "
                              "(corrected), {:.1f} degrees of freedom",
                              change.label, *change.first_pct, *change.second_pct, change.change_pct->value,
                              change.change_pct->low, change.change_pct->high, *change.p_corrected,
                              *change.degrees)}});
            wanted.emplace_back(rule.next);
        }
    }
    for (const auto& test : separating_tests())
        if (std::find(wanted.begin(), wanted.end(), test.code) != wanted.end())
            comparison.next_tests.push_back(suggested(test.code));
}

std::vector<Notice> confounders(const ComparedRecording& first, const ComparedRecording& second) {
    std::vector<Notice> notices;
    const auto& a = first.engine;
    const auto& b = second.engine;
    if (a.quantity != b.quantity)
        notices.push_back(
            {"quantity-differs",
             fmt::format("The first was measured by {}, the second by {}: their errors do not cancel. Record "
                         "both by the same.",
                         name(a.quantity), name(b.quantity))});
    if (a.speed_rpm && b.speed_rpm && std::abs(*b.speed_rpm / *a.speed_rpm - 1) > speed_differs_share)
        notices.push_back(
            {"speed-differs",
             fmt::format("Cranked at {:.0f} and at {:.0f} rpm: a leak costs more at a lower speed, so a "
                         "leaking cylinder changes by the speed alone. Record again at the same speed.",
                         *a.speed_rpm, *b.speed_rpm)});
    if (a.cranking_v && b.cranking_v && std::abs(*b.cranking_v - *a.cranking_v) > battery_differs_v)
        notices.push_back(
            {"battery-differs",
             fmt::format("The battery stood at {:.1f} V and at {:.1f} V while cranking. Charge it alike and "
                         "record again.",
                         *a.cranking_v, *b.cranking_v)});
    if (std::min(first.by_cycle_pct.size(), second.by_cycle_pct.size()) < few_cycles)
        notices.push_back(
            {"few-cycles",
             fmt::format("Only {} and {} cycles could be used: crank longer to see smaller changes.",
                         first.by_cycle_pct.size(), second.by_cycle_pct.size())});
    return notices;
}

}  // namespace evenstroke::findings
