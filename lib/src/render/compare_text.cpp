// The summary of compare.
#include <fmt/core.h>

#include <algorithm>

#include "evenstroke/render_followup.hpp"
#include "judgement_text.hpp"
#include "page.hpp"

namespace evenstroke {

namespace {

using namespace render;

std::string shown(std::optional<double> value, const char* format) {
    return value ? fmt::format(fmt::runtime(format), *value) : "n/a";
}

void change_lines(Page& page, const Comparison& comparison) {
    std::size_t label_columns = 0;
    for (const auto& c : comparison.changes)
        label_columns = std::max(label_columns, text_columns(c.label) + 1);
    // A narrow page has the interval and the word on a line of their own.
    const std::size_t beside = label_columns + 22;
    const bool narrow = page.columns < static_cast<int>(beside) + 28;
    page.blank();
    page.text += pad_right("", label_columns) + "first  second  change" + (narrow ? "\n" : "  95 %\n");
    for (const auto& c : comparison.changes) {
        std::string line = pad_right(c.label, label_columns) + pad_left(shown(c.first_pct, "{:.0f}"), 5) +
                           pad_left(shown(c.second_pct, "{:.0f}"), 8) +
                           pad_left(c.change_pct ? fmt::format("{:+.1f}", c.change_pct->value) : "n/a", 8);
        std::string rest = c.reference ? "measures the others" : "not tested";
        if (c.change_pct) {
            const std::string word = c.beyond_chance ? page.strong("changed") : "not proven";
            rest = pad_right(fmt::format("{:+.1f} to {:+.1f}  ", c.change_pct->low, c.change_pct->high), 16) +
                   word;
        }
        line = narrow ? line + "\n" + std::string(label_columns, ' ') + rest
                      : pad_right(line, beside) + " " + rest;
        page.text += line + '\n';
    }
}

void statistics(Page& page, const Comparison& comparison) {
    page.section("Welch's test, Holm's correction");
    for (const auto& c : comparison.changes)
        if (c.p)
            page.paragraph(
                fmt::format("{}: t {:.2f}, {:.1f} degrees of freedom, p {:.2g}, corrected {:.2g}; {} "
                            "and {} cycles",
                            c.label, *c.t_ratio, *c.degrees, *c.p, *c.p_corrected, c.first_cycles,
                            c.second_cycles),
                "  ");
    std::string steady;
    for (const auto& c : comparison.changes)
        if (c.reference) steady += (steady.empty() ? "" : ", ") + c.label;
    page.paragraph("scale: " + steady + ", which agree best", "  ");
    page.paragraph(
        "changed means: corrected p below 0.05, and the interval, which also covers what differs between "
        "recordings, excludes 0",
        "  ");
}

void side(Page& page, const char* which, const RecordedEngine& r) {
    std::string text = printable(r.path);
    if (r.speed_rpm) text += fmt::format(", {:.0f} rpm", *r.speed_rpm);
    if (r.cranking_v) text += fmt::format(", battery {:.1f} V while cranking", *r.cranking_v);
    page.paragraph(text + ": " + printable(r.headline), which);
}

}  // namespace

std::string compare_text(const RecordedEngine& first, const RecordedEngine& second,
                         const Comparison& comparison, const TextStyle& style) {
    Page page{.columns = usable_columns(style.columns), .color = style.color, .text = {}};
    page.verdict(verdict_word(name(comparison.outcome)), verdict_said(comparison));
    if (!comparison.changes.empty()) {
        change_lines(page, comparison);
        statistics(page, comparison);
    }
    page.section("Recordings");
    side(page, "  first:  ", first);
    side(page, "  second: ", second);
    if (!comparison.findings.empty()) page.section("Findings");
    for (const auto& f : comparison.findings) page.paragraph(printable(f.text), "- ");
    if (!comparison.confounders.empty()) page.section("What else differs");
    for (const auto& n : comparison.confounders) page.paragraph(printable(n.text), "- ");
    test_lines(page, comparison);
    caution_lines(page, "Before testing", comparison);
    return page.text;
}

}  // namespace evenstroke
