// The cases put together, the pieces they are made of, and how one is held against a table of rules.
#include <algorithm>
#include <sstream>

#include "findings/verdicts.hpp"
#include "parts.hpp"

namespace evenstroke::test {

Worksheet sheet(const std::string& rows) {
    return parse_worksheet("quantity,unit,engine,1,2,3,4\n" + rows, "sheet.csv");
}

RecordedEngine recording(const std::vector<double>& contribution_pct, const std::string& path) {
    constexpr double margin = 2;
    constexpr int partner_of[] = {4, 3, 2, 1};  // 1-3-4-2: 1 and 4, 2 and 3 fire 360 degrees apart
    std::vector<CylinderContribution> cylinders;
    for (const double pct : contribution_pct)
        cylinders.push_back({.contribution_pct = pct,
                             .low_pct = pct - margin,
                             .high_pct = std::min(100.0, pct + margin),
                             .simple_pct = {},
                             .events = 8});
    const auto words = findings::verdicts(cylinders, 75);
    RecordedEngine r;
    r.path = path;
    r.headline = "All cylinders compress alike.";
    r.outcome = Outcome::even;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (words[i] == Verdict::weak) r.outcome = Outcome::weak;
        r.cylinders.push_back(
            {.cylinder = static_cast<int>(i) + 1,
             .possible = {},
             .half_turn_on = i < 4 ? std::optional(partner_of[i]) : std::nullopt,
             .label = "cylinder " + std::to_string(i + 1),
             .contribution_pct = Figure{contribution_pct[i], *cylinders[i].low_pct, *cylinders[i].high_pct},
             .verdict = words[i],
             .loss = {}});
    }
    return r;
}

namespace {

bool holds(const FollowUp& f, const std::string& code) {
    return std::any_of(f.findings.begin(), f.findings.end(),
                       [&](const JudgedFinding& x) { return x.rule->code == code; });
}

/// "3 rings", "engine battery": the rivals of this standing.
std::vector<std::string> rivals(const FollowUp& f, Rival::Standing standing) {
    std::vector<std::string> all;
    for (const auto& d : f.diagnoses)
        for (const auto& r : d.rivals)
            if (r.standing == standing)
                all.push_back((d.cylinder ? std::to_string(*d.cylinder) : "engine") + " " + name(r.cause));
    return all;
}

/// What of `expected` is not among `got`.
void miss(std::ostringstream& out, const std::vector<std::string>& got, const char* what,
          const std::vector<std::string>& expected) {
    for (const auto& one : expected)
        if (std::find(got.begin(), got.end(), one) == got.end()) out << one << " is not " << what << "; ";
}

/// "3 carbon by reads-high".
std::vector<std::string> reasons(const FollowUp& f) {
    std::vector<std::string> all;
    for (const auto& d : f.diagnoses)
        for (const auto& r : d.rivals)
            for (const auto& code : r.by)
                all.push_back((d.cylinder ? std::to_string(*d.cylinder) : "engine") + " " + name(r.cause) +
                              " by " + code);
    return all;
}

}  // namespace

std::vector<Vignette> vignettes() {
    std::vector<Vignette> all;
    for (const auto& part : {from_recordings(), from_the_gauge(), in_the_block(), puffs_and_oil(),
                             from_leak_down(), battery_and_starter(), from_vacuum(), from_oil()})
        all.insert(all.end(), part.begin(), part.end());
    return all;
}

std::string wrong(const Vignette& v, std::span<const Rule> table) {
    const auto f = follow_up(v.evidence, table);
    std::ostringstream out;
    if (f.outcome != v.outcome) out << "outcome " << name(f.outcome) << "; ";
    for (const auto& code : v.codes)
        if (!holds(f, code)) out << "no " << code << "; ";
    for (const auto& code : v.not_codes)
        if (holds(f, code)) out << "there is " << code << "; ";
    auto expected = v.pointed_at;
    auto got = rivals(f, Rival::Standing::pointed_at);
    std::sort(expected.begin(), expected.end());
    std::sort(got.begin(), got.end());
    if (got != expected) {
        out << "points to";
        for (const auto& cause : got) out << " [" << cause << "]";
        out << "; ";
    }
    miss(out, rivals(f, Rival::Standing::possible), "possible", v.open);
    miss(out, rivals(f, Rival::Standing::removed), "removed", v.removed);
    miss(out, reasons(f), "a reason", v.by);
    const std::string next = f.next_tests.empty() ? "" : f.next_tests.front().code;
    if (!v.next.empty() && v.next != next) out << "next " << next << "; ";
    return out.str();
}

}  // namespace evenstroke::test