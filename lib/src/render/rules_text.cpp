// The rules as a table in Markdown, for docs/diagnosis.md and for who wants to read them.
#include <fmt/core.h>

#include "evenstroke/render_followup.hpp"

namespace evenstroke {

namespace {

std::string listed(Causes causes) {
    std::string text;
    for (const Cause cause : causes.list()) text += (text.empty() ? "" : ", ") + std::string(name(cause));
    return text;
}

/// What the rule does to the list of rivals.
std::string effect(const Rule& rule) {
    std::string text;
    const auto add = [&text](const char* what, Causes causes) {
        if (causes.empty()) return;
        text += (text.empty() ? "" : "; ") + std::string(what) + listed(causes);
    };
    add("opens ", rule.opens);
    add("points to ", rule.points_to);
    add("removes ", rule.removes);
    return text;
}

/// The sentence with its placeholder in a reader's words.
std::string sentence_for_anyone(const Rule& rule) {
    std::string text = rule.says;
    const auto at = text.find("{}");
    if (at != std::string::npos) text.replace(at, 2, at == 0 ? "Cylinder(s) N" : "cylinder(s) N");
    return text;
}

}  // namespace

std::string rules_text() {
    std::string text =
        "| finding | says | needs | strength | rivals | next test | source |\n"
        "| --- | --- | --- | --- | --- | --- | --- |\n";
    for (const Rule& rule : rules())
        text += fmt::format("| `{}`{} | {} | {} | {} | {} | `{}` | {} |\n", rule.code,
                            rule.conflict ? " (conflict)" : "", sentence_for_anyone(rule), rule.needs,
                            name(rule.strength), effect(rule), rule.next, rule.source);
    return text;
}

}  // namespace evenstroke
