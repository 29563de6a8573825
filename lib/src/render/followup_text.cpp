// The summary of followup.
#include <fmt/core.h>

#include <set>

#include "evenstroke/render_followup.hpp"
#include "judgement_text.hpp"
#include "page.hpp"

namespace evenstroke {

namespace {

using namespace render;

/// Evidence that several findings rest on is shown with the first.
void finding_lines(Page& page, const JudgedFinding& f, std::set<std::string>& shown) {
    page.paragraph(printable(f.text) + fmt::format(" ({})", name(f.strength)), "- ");
    std::string evidence;
    for (const auto& e : f.evidence)
        if (shown.insert(e).second) evidence += (evidence.empty() ? "" : "; ") + e;
    if (!evidence.empty()) page.paragraph(printable(evidence), "    ");
}

void findings(Page& page, const FollowUp& result, bool conflicts, const char* title,
              std::set<std::string>& shown) {
    bool titled = false;
    for (const auto& f : result.findings) {
        if (f.rule->conflict != conflicts) continue;
        if (!titled) page.section(title);
        titled = true;
        finding_lines(page, f, shown);
    }
}

void rivals(Page& page, const Diagnosis& d) {
    page.text += (d.cylinder ? fmt::format("cylinder {}", *d.cylinder) : std::string("the engine")) + '\n';
    using enum Rival::Standing;
    for (const auto standing : {pointed_at, conflicting, possible, removed}) {
        std::string text;
        for (const auto& r : d.rivals) {
            if (r.standing != standing) continue;
            text += (text.empty() ? "" : "; ") + std::string(words(r.cause));
            std::string by;
            for (const auto& code : r.by) by += (by.empty() ? "" : ", ") + code;
            if (!by.empty()) text += fmt::format(" [{}]", by);
        }
        constexpr std::size_t lead = 15;
        if (!text.empty()) page.paragraph(text, pad_right(fmt::format("  {}", name(standing)), lead));
    }
}

}  // namespace

std::string followup_text(const Evidence& evidence, const FollowUp& result, const TextStyle& style) {
    Page page{.columns = usable_columns(style.columns), .color = style.color, .text = {}};
    page.verdict(verdict_word(name(result.outcome)), verdict_said(result));
    std::set<std::string> shown;
    findings(page, result, true, "Conflicts", shown);
    findings(page, result, false, "Findings", shown);
    if (!result.diagnoses.empty()) page.section("What is left");
    for (const auto& d : result.diagnoses) rivals(page, d);
    if (!evidence.recordings.empty()) page.section("Recordings");
    for (const auto& r : evidence.recordings) page.paragraph(printable(r.path + ": " + r.headline), "- ");
    test_lines(page, result);
    caution_lines(page, "Before testing", result);
    return page.text;
}

}  // namespace evenstroke
