// The page of `crank`: what the summary says, as one self-contained file with pictures. Well-formed XML too.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "crank_pictures.hpp"
#include "crank_words.hpp"
#include "evenstroke/render.hpp"
#include "evenstroke/version.hpp"
#include "html.hpp"
#include "judgement_text.hpp"
#include "page_style.hpp"
#include "render/text.hpp"

namespace evenstroke {

namespace {

using namespace render;

std::string paragraph(std::string_view text, std::string_view attributes = "") {
    return element("p", escaped(text), attributes);
}

/// The class that the verdict's frame has: its pattern says the word too.
const char* frame_of(const Findings& findings) {
    if (findings.outcome == Outcome::inconclusive) return "class=\"inconclusive\"";
    if (findings.outcome == Outcome::weak) return "class=\"weak\"";
    return crank_word(findings) == "LOW" ? "class=\"low\"" : "class=\"even\"";
}

std::string headline(const Findings& findings) {
    // The blank is for those who hear or copy the line.
    return element("h1",
                   fmt::format("<b>{}</b> {}", escaped(crank_word(findings)),
                               escaped(sentence(printable(verdict_said(findings))))),
                   frame_of(findings));
}

/// Columns that stand in the table only when they hold something.
struct Columns {
    bool loss = false;
    bool peak = false;
};

Columns columns_of(const Analysis& a) {
    const auto& all = a.contribution.cylinders;
    return {
        .loss = std::any_of(all.begin(), all.end(), [](const auto& c) { return c.loss_kind.has_value(); }),
        .peak = !a.peaks_kpa.empty()};
}

std::string table_head(const Columns& columns, double weak_below_pct) {
    const auto th = [](std::string_view content, std::string_view more = "") {
        return element("th", content, fmt::format("scope=\"col\"{}", more));
    };
    std::string cells = th("Cylinder") + th("%", " class=\"number\"") +
                        th("95&#160;% interval", " class=\"number\"") +
                        th(bar_scale(weak_below_pct), " class=\"bars\"") + th("Verdict");
    if (columns.loss) cells += th("Kind of loss");
    if (columns.peak) cells += th("Peak pressure (gauge)");
    return element("thead", element("tr", "\n" + cells));
}

std::string table_row(const Analysis& a, const CylinderName& named, std::size_t i, const Columns& columns) {
    const auto& c = a.contribution.cylinders[i];
    const Verdict word = verdict_at(a.findings, i);
    std::string cells =
        element("th", escaped(named.label), "scope=\"row\"") +
        element("td", percent(c.contribution_pct), "class=\"number\"") +
        element("td", interval(c), "class=\"number\"") +
        element("td", contribution_bar(c, word, a.findings.weak_below_pct), "class=\"bars\"") +
        element("td", name(word), "class=\"word\"");
    if (columns.loss) cells += element("td", c.loss_kind ? name(*c.loss_kind) : "n/a");
    if (columns.peak) {
        const auto peak = i < a.peaks_kpa.size() ? a.peaks_kpa[i] : std::nullopt;
        cells += element("td", fmt::format("{}", fmt::join(peak_parts(peak), ",<br/>")), "class=\"peak\"");
    }
    return element("tr", "\n" + cells, fmt::format("class=\"{}\"", name(word)));
}

/// How the table is read.
std::string table_notes(const Columns& columns, double weak_below_pct) {
    const std::string limit = std::isfinite(weak_below_pct) ? fmt::format("{:.4g} %", weak_below_pct) : "n/a";
    std::string notes = fmt::format(
        "Contribution: estimated peak compression pressure (gauge), percent of the highest cylinder's. On "
        "each bar the line with caps is the 95 % interval, the dashed line the limit of weak, {}.",
        limit);
    if (columns.loss)
        notes += " Kind of loss n/a: there is no loss beyond chance, or the recording cannot tell its kind.";
    return paragraph(notes, "class=\"soft\"");
}

/// Nothing where no cylinder was judged: no figure stands as if it were a verdict.
std::string cylinders(const Analysis& a) {
    if (a.findings.verdicts.empty()) return {};
    const Columns columns = columns_of(a);
    const auto names = cylinder_names(a.angle, a.layout);
    std::string rows = "\n";
    for (std::size_t i = 0; i < a.contribution.cylinders.size() && i < names.size(); ++i)
        rows += table_row(a, names[i], i, columns);
    std::string out =
        element("table", "\n" + element("caption", "Contribution of each cylinder, in firing sequence") +
                             table_head(columns, a.findings.weak_below_pct) + element("tbody", rows));
    // A table wider than a phone is moved within its own frame, by keyboard too.
    out =
        element("div", "\n" + out, "class=\"wide\" role=\"region\" aria-label=\"Cylinders\" tabindex=\"0\"");
    for (const auto& line : loss_lines(a)) out += paragraph(sentence(line));
    return out + table_notes(columns, a.findings.weak_below_pct);
}

std::string figure(std::string_view title, const std::string& picture, std::string_view caption) {
    const std::string shown =
        picture.empty() ? paragraph("n/a")
                        : element("figure", "\n" + picture + element("figcaption", escaped(caption)));
    return element("section", "\n" + element("h2", escaped(title)) + shown);
}

std::string pictures(const Recording& recording, const Analysis& a) {
    const bool modelled = !a.contribution.model_cycle.empty();
    const std::string of_cycles = a.contribution.cycles_used
                                      ? fmt::format("the {} cycles used", *a.contribution.cycles_used)
                                      : "the cycles";
    const std::string cycle = fmt::format("Wide line: mean of {}.{}", of_cycles,
                                          modelled ? " Dashed line: what the fitted model gives." : "");
    const bool analysed = !why_not(a.cranking, a.angle, a.contribution);
    const std::string trace =
        fmt::format("{}. {}",
                    a.trace.quantity == Quantity::wheel ? "Speed from tooth to tooth"
                                                        : "Lowest to highest value in each column",
                    analysed                 ? "The marked part was analysed."
                    : a.cranking.no_cranking ? "No cranking was found in it."
                                             : "The marked part is settled cranking; it gave no verdict.");
    return figure("The mean cycle", cycle_picture(a), cycle) +
           figure("The whole recording", trace_picture(recording, a), trace);
}

/// Each part of a line as an item; the source below.
std::string cranking(const Recording& recording, const Analysis& a) {
    std::string out = listed("Cranking", "ul", cranking_parts(a), "class=\"figures\"") +
                      listed("Starter and engine", "ul", drive_parts(a.drive), "class=\"figures\"");
    return out + element("section", "\n" + element("h2", "Recording") + paragraph(source(recording, a)));
}

std::string body(const Recording& recording, const Analysis& a) {
    std::vector<std::string> tests;
    for (const auto& test : a.findings.next_tests) tests.push_back(test.text);
    return element("main", "\n" + headline(a.findings) + cylinders(a) + pictures(recording, a) +
                               cranking(recording, a) + listed("Also found", "ul", also_found(a.findings)) +
                               listed("Notices", "ul", notice_sentences(recording, a)) +
                               listed("Test next", "ol", tests) +
                               listed("Before testing", "ul", a.findings.cautions, "class=\"cautions\"")) +
           element("footer",
                   fmt::format("Evenstroke {}: relative compression from a cranking engine", version()));
}

}  // namespace

std::string crank_html(const Recording& recording, const Analysis& a) {
    const std::string title = fmt::format("{}: {}", crank_word(a.findings), path_words(recording));
    const std::string head =
        "<meta charset=\"utf-8\"/>\n<meta name=\"viewport\" content=\"width=device-width, "
        "initial-scale=1\"/>\n" +
        element("title", escaped(title)) + element("style", page_style);
    return "<!DOCTYPE html>\n" +
           element("html", "\n" + element("head", "\n" + head) + element("body", "\n" + body(recording, a)),
                   "lang=\"en\"");
}

}  // namespace evenstroke
