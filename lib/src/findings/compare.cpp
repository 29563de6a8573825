#include "evenstroke/compare.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "change_rules.hpp"
#include "common_scale.hpp"
#include "sentences.hpp"
#include "signal/statistics.hpp"
#include "test_table.hpp"

namespace evenstroke {

namespace {

constexpr double false_alarm_chance = 0.05;
/// The half-width of a contribution's own 95 % interval, points; empty when it is not known. Its ends are cut
/// at 0 and 100 %, so the wider side counts.
std::optional<double> half_width(const RecordedCylinder& c) {
    if (!c.contribution_pct) return std::nullopt;
    return std::max(c.contribution_pct->value - c.contribution_pct->low,
                    c.contribution_pct->high - c.contribution_pct->value);
}

/// How far two recordings of one unchanged engine may differ beyond the scatter of their cycles, 95 %,
/// points. Each has its own fit of friction and starter, whose error all its cycles share: of the
/// contributions' intervals nothing is taken to cancel (docs/diagnosis.md says why). The cylinders that
/// measure this one add theirs, as a mean.
std::optional<double> between_recordings_pct(const ComparedRecording& first, const ComparedRecording& second,
                                             std::size_t position, const std::vector<std::size_t>& steady) {
    double own = 0;
    double level = 0;
    double count = 0;
    for (const auto* side : {&first, &second}) {
        const auto half = half_width(side->engine.cylinders[position]);
        if (!half) return std::nullopt;
        own += *half * *half;
        for (const std::size_t i : steady) {
            const auto other = half_width(side->engine.cylinders[i]);
            if (i == position || !other) continue;
            level += *other * *other;
            ++count;
        }
    }
    const double measures = std::max(1.0, count / 2);
    return std::sqrt(own + level / (measures * measures));
}

/// What the largest change elsewhere may spill into a cylinder's estimate, 95 %, as a share of that change:
/// the crank carries the effect of one cylinder into the next, and the model takes most of it out, not all.
/// On simulated engines whose fault was taken away 19 neighbours in 20 stayed within 0.07 to 0.17 of it
/// (docs/diagnosis.md).
constexpr double spill_share = 0.15;

/// Why the two cannot be compared at all.
std::optional<std::string> why_not(const ComparedRecording& first, const ComparedRecording& second) {
    for (const auto* side : {&first, &second}) {
        if (side->engine.cylinders.empty())
            return fmt::format("nothing can be said about {}: {}", side->engine.path,
                               side->engine.no_verdict.value_or(side->engine.headline));
        if (!side->anchored)
            return fmt::format(
                "no mark shows which cylinder is which in {}: name its sync channel with --sync, or record "
                "both with one whose mark comes once every two turns",
                side->engine.path);
        if (side->by_cycle_pct.size() < 2)
            return fmt::format("fewer than two cycles of {} can be used: crank longer", side->engine.path);
    }
    if (first.engine.cylinders.size() != second.engine.cylinders.size() || first.engine.cylinders.size() < 2)
        return "both recordings must be of the same engine, with two cylinders or more";
    return std::nullopt;
}

void test(Change& change, const std::vector<double>& first, const std::vector<double>& second,
          std::optional<double> between_pct) {
    change.first_cycles = static_cast<int>(first.size());
    change.second_cycles = static_cast<int>(second.size());
    if (first.empty() || second.empty()) return;
    change.first_pct = signal::mean(first);
    change.second_pct = signal::mean(second);
    const auto welch = signal::welch_test(first, second);
    if (!welch || !between_pct) return;
    const double scatter =
        signal::student_t_quantile(signal::two_sided_95, welch->degrees) * welch->standard_error;
    const double half = std::hypot(scatter, *between_pct);
    change.change_pct = Figure{welch->difference, welch->difference - half, welch->difference + half};
    change.t_ratio = welch->t_ratio;
    change.degrees = welch->degrees;
    change.p = welch->p;
}

/// Widens every interval by what the largest of the other changes may spill into it.
void add_spill(std::vector<Change>& changes) {
    const std::vector<Change> before = changes;
    for (std::size_t i = 0; i < changes.size(); ++i) {
        if (!changes[i].change_pct) continue;
        double largest = 0;
        for (std::size_t k = 0; k < before.size(); ++k)
            if (k != i && before[k].change_pct)
                largest = std::max(largest, std::abs(before[k].change_pct->value));
        auto& change = *changes[i].change_pct;
        const double half = std::hypot(change.high - change.value, spill_share * largest);
        change = Figure{change.value, change.value - half, change.value + half};
    }
}

/// Holm over the cylinders tested; a change counts when it beats the scatter between cycles, corrected, and
/// its interval, which holds what differs between recordings, leaves out zero.
void decide(std::vector<Change>& changes) {
    std::vector<double> p;
    for (const auto& c : changes)
        if (c.p) p.push_back(*c.p);
    const auto corrected = signal::holm_corrected(p);
    std::size_t next = 0;
    for (auto& c : changes) {
        if (!c.p) continue;
        c.p_corrected = corrected[next++];
        c.beyond_chance =
            *c.p_corrected < false_alarm_chance && (c.change_pct->low > 0 || c.change_pct->high < 0);
    }
}

std::vector<Change> changes_of(const ComparedRecording& first, const ComparedRecording& second) {
    const auto first_means = findings::position_means(first.by_cycle_pct);
    const auto second_means = findings::position_means(second.by_cycle_pct);
    // A weak cylinder may be the one that is repaired or fails: no measure for the others.
    const auto steady = findings::steady_positions(first_means, second_means, first.engine.weak_below_pct);
    std::vector<Change> changes;
    for (std::size_t i = 0; i < first.engine.cylinders.size(); ++i) {
        const auto& c = first.engine.cylinders[i];
        Change change{.label = c.label, .cylinder = c.cylinder};
        change.reference = std::find(steady.begin(), steady.end(), i) != steady.end();
        const auto scale = findings::mean_of(first_means, steady, i);
        if (scale)
            test(change, findings::relative_values(first.by_cycle_pct, i, steady, *scale),
                 findings::relative_values(second.by_cycle_pct, i, steady, *scale),
                 between_recordings_pct(first, second, i, steady));
        changes.push_back(std::move(change));
    }
    add_spill(changes);
    decide(changes);
    return changes;
}

/// Neither tested nor the measure of the others: "cylinder 3, cylinder 5".
std::string untested(const std::vector<Change>& changes) {
    std::string text;
    for (const auto& c : changes)
        if (!c.change_pct && !c.reference) text += (text.empty() ? "" : ", ") + c.label;
    return text;
}

std::string headline(const std::vector<Change>& changes) {
    std::string text;
    double widest = 0;
    for (const auto& c : changes) {
        if (c.change_pct) widest = std::max(widest, (c.change_pct->high - c.change_pct->low) / 2);
        if (!c.beyond_chance) continue;
        text += fmt::format("{}{} by {:+.1f} points ({:+.1f} to {:+.1f})", text.empty() ? "" : ", ", c.label,
                            c.change_pct->value, c.change_pct->low, c.change_pct->high);
    }
    if (!text.empty()) return "Changed beyond chance: " + text + ".";
    return fmt::format("No cylinder changed beyond chance; a change of {:.0f} points or more would show.",
                       std::ceil(widest));
}

}  // namespace

const char* name(Between between) {
    switch (between) {
        case Between::oil:
            return "oil";
        case Between::warming:
            return "warming";
        case Between::repair:
            return "repair";
        case Between::time:
            return "time";
        case Between::not_said:
            break;
    }
    return "not said";
}

const char* name(CompareOutcome outcome) {
    switch (outcome) {
        case CompareOutcome::changed:
            return "changed";
        case CompareOutcome::unchanged:
            return "unchanged";
        case CompareOutcome::inconclusive:
            break;
    }
    return "inconclusive";
}

ComparedRecording compared_recording(RecordedEngine engine, const CrankAngle& angle,
                                     const EngineLayout& layout, const Contribution& contribution) {
    constexpr double half = 0.5;
    double shortest_deg = cycle_deg;
    for (const double interval : layout.intervals_deg) shortest_deg = std::min(shortest_deg, interval);
    ComparedRecording side{.engine = std::move(engine), .by_cycle_pct = contribution.by_cycle_pct};
    side.anchored = !angle.no_reference && angle.kind != ReferenceKind::none && !angle.once_per_turn &&
                    angle.offset_sd_deg < half * shortest_deg;
    return side;
}

Comparison compare(const ComparedRecording& first, const ComparedRecording& second, Between between) {
    Comparison result;
    result.between = between;
    const std::vector<std::string> dangers{"crank", "fuel"};
    if (const auto reason = why_not(first, second)) {
        findings::leave_open(result, *reason);
        result.next_tests.push_back(findings::suggested("repeat-recording"));
        result.cautions = findings::cautions_of(result.next_tests, dangers);
        return result;
    }
    result.changes = changes_of(first, second);
    result.confounders = findings::confounders(first, second);
    const auto any = [&](auto holds) {
        return std::any_of(result.changes.begin(), result.changes.end(), holds);
    };
    if (any([](const Change& c) { return c.change_pct.has_value(); }))
        result.outcome = any([](const Change& c) { return c.beyond_chance; }) ? CompareOutcome::changed
                                                                              : CompareOutcome::unchanged;
    const std::string left_out = untested(result.changes);
    if (result.outcome == CompareOutcome::inconclusive) {
        findings::leave_open(result, "the recordings' cycles leave nothing to test.");
    } else if (result.outcome == CompareOutcome::unchanged && !left_out.empty()) {
        result.outcome = CompareOutcome::inconclusive;
        findings::leave_open(result, fmt::format("nothing tells whether {} changed; none of the others did "
                                                 "beyond chance.",
                                                 left_out));
        result.next_tests.push_back(findings::suggested("repeat-recording"));
    } else {
        result.headline = first.by_cycle_pct == second.by_cycle_pct
                              ? "Both are the same recording: every cycle agrees to the last digit."
                              : headline(result.changes);
    }
    findings::judge_changes(result, first);
    result.cautions = findings::cautions_of(result.next_tests, dangers);
    return result;
}

}  // namespace evenstroke
