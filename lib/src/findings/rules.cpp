// What is found, one rule a row: when it applies, and what it says.
#include <fmt/core.h>

#include <algorithm>

#include "rule_context.hpp"
#include "sentences.hpp"

namespace evenstroke::findings {

namespace {

std::string range_of_others(const RuleContext& c, const std::vector<std::size_t>& positions) {
    std::optional<double> low;
    std::optional<double> high;
    for (std::size_t i = 0; i < c.contribution.cylinders.size(); ++i) {
        const auto& value = c.contribution.cylinders[i].contribution_pct;
        if (!value || std::find(positions.begin(), positions.end(), i) != positions.end()) continue;
        low = std::min(low.value_or(*value), *value);
        high = std::max(high.value_or(*value), *value);
    }
    if (!low) return {};
    if (*high - *low < 1) return fmt::format("the others reach {:.0f} %", *high);
    return fmt::format("the others reach {:.0f} to {:.0f} %", *low, *high);
}

std::vector<std::string> evidence_for(const RuleContext& c, const std::vector<std::size_t>& positions) {
    std::vector<std::string> evidence;
    for (const std::size_t i : positions) {
        const auto& cylinder = c.contribution.cylinders[i];
        evidence.push_back(
            fmt::format("{}: {}, {} compressions", c.names[i].label, measured(cylinder), cylinder.events));
    }
    if (const auto others = range_of_others(c, positions); !others.empty()) evidence.push_back(others);
    return evidence;
}

Finding nothing_judged(const RuleContext& c) {
    return {"no-verdict", whole_sentence(c.reason.value_or("")), {}};
}

Finding weak(const RuleContext& c) {
    const auto positions = c.with(Verdict::weak);
    Finding finding{"weak-cylinder",
                    fmt::format("{} {} less than {:g} % of the highest.", capitalised(list(c, positions)),
                                positions.size() == 1 ? "compresses" : "compress", c.options.weak_below_pct),
                    evidence_for(c, positions)};
    finding.evidence.push_back(
        fmt::format("weak means: the whole 95 % interval lies below {:g} %", c.options.weak_below_pct));
    return finding;
}

Finding low(const RuleContext& c) {
    const auto positions = c.with(Verdict::low);
    const auto maybe_weak = c.maybe_weak();
    Finding finding{"low-cylinder",
                    fmt::format("{} {} lower than the others by more than chance, yet not {}weak.",
                                capitalised(list(c, positions)), positions.size() == 1 ? "is" : "are",
                                maybe_weak.empty() ? "" : "surely "),
                    evidence_for(c, positions)};
    for (const std::size_t i : maybe_weak)
        finding.evidence.push_back(fmt::format("{}: the interval reaches below {:g} %, so it may be weak",
                                               c.names[i].label, c.options.weak_below_pct));
    return finding;
}

/// Those with an interval; one of which nothing is known has its notice.
std::vector<std::size_t> unsure_positions(const RuleContext& c) {
    auto positions = c.with(Verdict::unsure);
    std::erase_if(positions, [&](std::size_t i) { return !c.contribution.cylinders[i].contribution_pct; });
    return positions;
}

Finding unsure(const RuleContext& c) {
    const auto positions = unsure_positions(c);
    return {"unsure-cylinder",
            fmt::format("{} could be even or weak: the interval is too wide to tell.",
                        capitalised(list(c, positions))),
            evidence_for(c, positions)};
}

Finding alike(const RuleContext& c) {
    return {"alike",
            "All cylinders compress alike. They are compared only with each other: an engine worn in all of "
            "them looks the same. One gauge reading on any cylinder settles it.",
            evidence_for(c, {*c.lowest()})};
}

/// Most cylinders weak against one: rather than several bad ones there may be one that reads high.
bool one_stands_out(const RuleContext& c) {
    return c.verdicts.size() >= 3 && 2 * c.with(Verdict::weak).size() > c.verdicts.size();
}

Finding stands_out(const RuleContext& c) {
    return {"most-weak",
            fmt::format("Most cylinders read weak against {}. That one may be out of line (oil or carbon "
                        "raises compression): measure it too before condemning the others.",
                        c.names[*c.highest()].label),
            evidence_for(c, {*c.highest()})};
}

/// Neither the numbers nor the firing order tell which cylinders stand side by side: 4 and 5 of a V engine
/// that is numbered by bank stand at opposite ends.
bool several_named_weak(const RuleContext& c) {
    return c.named() && c.with(Verdict::weak).size() >= 2;
}

Finding neighbours(const RuleContext& c) {
    const auto positions = c.with(Verdict::weak);
    return {"weak-neighbours",
            fmt::format("If {}{} stand side by side in one bank, the head gasket between them is a usual "
                        "cause; a follow-up that is told the rows of the block says whether they do.",
                        positions.size() > 2 ? "any two of " : "", list(c, positions)),
            {"service manuals: two adjacent low cylinders point to the head gasket"}};
}

std::vector<std::size_t> shadowed(const RuleContext& c) {
    std::vector<std::size_t> positions;
    for (std::size_t i = 0; i < c.verdicts.size(); ++i) {
        const auto& simple_pct = c.contribution.cylinders[i].simple_pct;
        if (c.verdicts[i] == Verdict::even && simple_pct && *simple_pct < c.options.weak_below_pct)
            positions.push_back(i);
    }
    return positions;
}

Finding shadow(const RuleContext& c) {
    const auto positions = shadowed(c);
    const bool wheel = c.trace.quantity == Quantity::wheel;
    const char* hump = wheel ? "dip of speed" : "hump";
    // Of most cylinders the names say nothing any more.
    const std::string whose = 2 * positions.size() > c.verdicts.size()
                                  ? fmt::format("{} of {} cylinders", positions.size(), c.verdicts.size())
                                  : list(c, positions);
    Finding finding{
        "small-hump-not-weak",
        fmt::format(
            "The {} of {} look weak but the compression is not: the crank carries the effect of one cylinder "
            "into the next.",
            wheel ? "dips of speed" : "load humps", whose),
        {}};
    for (const std::size_t i : positions)
        finding.evidence.push_back(
            fmt::format("{}: {} {:.0f} % of the highest, compression {}", c.names[i].label, hump,
                        *c.contribution.cylinders[i].simple_pct, measured(c.contribution.cylinders[i])));
    return finding;
}

bool half_cycle_unknown(const RuleContext& c) {
    return !c.reason && c.angle.kind != ReferenceKind::none && c.angle.once_per_turn;
}

Finding half_cycle(const RuleContext& c) {
    std::string text =
        "The mark comes once a turn, so the cycle may be half a cycle off: each position has two possible "
        "cylinders.";
    if (c.names.empty() || c.names.front().possible.empty())
        text = "The mark comes once a turn, so the cycle may be half a cycle off: no cylinder can be named.";
    return {
        "half-cycle-unknown", text, {fmt::format("reference {} marks every 360 degrees", c.angle.channel)}};
}

bool unnamed(const RuleContext& c) {
    return !c.reason && c.angle.kind == ReferenceKind::none && c.verdicts.size() > 1;
}

Finding positions_only(const RuleContext&) {
    return {
        "positions-only",
        "Without a sync the positions count in firing sequence from the first settled compression; they are "
        "not cylinder numbers.",
        {}};
}

struct Saying {
    bool (*applies)(const RuleContext&);
    Finding (*says)(const RuleContext&);
};

constexpr Saying sayings[] = {
    {[](const RuleContext& c) { return c.reason.has_value(); }, nothing_judged},
    {[](const RuleContext& c) { return c.any(Verdict::weak); }, weak},
    {one_stands_out, stands_out},
    {several_named_weak, neighbours},
    {[](const RuleContext& c) { return c.any(Verdict::low); }, low},
    {[](const RuleContext& c) { return !unsure_positions(c).empty(); }, unsure},
    {[](const RuleContext& c) { return !c.reason && c.with(Verdict::even).size() == c.verdicts.size(); },
     alike},
    {[](const RuleContext& c) { return !shadowed(c).empty(); }, shadow},
    {half_cycle_unknown, half_cycle},
    {unnamed, positions_only},
};

/// Why the cylinders' intervals give no verdict.
std::string undecided(const RuleContext& c) {
    if (const auto& shut = c.contribution.exhaust_shut)
        return fmt::format("the exhaust valve of {} {}.", list(c, {shut->position}),
                           shut->sure ? "seems to stay shut, so that its compression cannot be told"
                                      : "may stay shut, beside which sound cylinders look weak");
    if (has_notice(c.contribution.notices, "lone-compression"))
        return "only one of the two cylinders compresses; which one, the firing intervals alone do not tell.";
    const auto unsure_ones = c.with(Verdict::unsure);
    const auto maybe_weak = c.maybe_weak();
    if (unsure_ones.size() == c.verdicts.size() && has_notice(c.contribution.notices, "counted-twice"))
        return "each compression may have been counted twice (see the notices), so that no cylinder can be "
               "judged.";
    if (unsure_ones.size() == c.verdicts.size())
        return has_notice(c.contribution.notices, "poor-fit")
                   ? "the trace does not follow an engine of this layout well enough to tell its "
                     "cylinders apart (see the notices)."
                   : "every cylinder may be even or weak; the intervals are too wide to tell.";
    if (maybe_weak.empty())
        return fmt::format("{} may be even or weak; {} too wide to tell.", list(c, unsure_ones),
                           unsure_ones.size() > 1 ? "the intervals are" : "the interval is");
    std::string low = fmt::format("{} {} lower than the others and may be weak", list(c, maybe_weak),
                                  maybe_weak.size() == 1 ? "is" : "are");
    if (!unsure_ones.empty())
        return fmt::format("{}, and {} may be even or weak; the intervals are too wide to tell.", low,
                           list(c, unsure_ones));
    if (maybe_weak.size() == 1)
        return fmt::format("{}: {}.", low, measured(c.contribution.cylinders[maybe_weak[0]]));
    return fmt::format("{}: the intervals reach below {:g} %.", low, c.options.weak_below_pct);
}

}  // namespace

std::string no_verdict(const RuleContext& c) {
    return c.reason ? *c.reason : undecided(c);
}

std::string headline(const RuleContext& c, Outcome outcome) {
    const auto weak_ones = c.with(Verdict::weak);
    if (outcome == Outcome::weak) {
        const auto subject = capitalised(list(c, weak_ones));
        if (weak_ones.size() == 1)
            return fmt::format("{} is weak: {}.", subject, measured(c.contribution.cylinders[weak_ones[0]]));
        return fmt::format("{} are weak: below {:g} % of the highest.", subject, c.options.weak_below_pct);
    }
    const auto low_ones = c.with(Verdict::low);
    if (low_ones.empty())
        return fmt::format("All {} cylinders compress alike: the lowest is {}.", c.verdicts.size(),
                           measured(c.contribution.cylinders[*c.lowest()]));
    if (low_ones.size() == 1)
        return fmt::format("None is weak, but {} is lower than the others: {}.", list(c, low_ones),
                           measured(c.contribution.cylinders[low_ones[0]]));
    return fmt::format("None is weak, but {} are lower than the others.", list(c, low_ones));
}

std::vector<Finding> apply_finding_rules(const RuleContext& c) {
    std::vector<Finding> found;
    for (const Saying& rule : sayings)
        if (rule.applies(c)) found.push_back(rule.says(c));
    return found;
}

}  // namespace evenstroke::findings
