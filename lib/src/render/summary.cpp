// The summary: verdict first, then a line a cylinder, figures, notices, next tests, cautions.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "crank_words.hpp"
#include "evenstroke/render.hpp"
#include "judgement_text.hpp"
#include "page.hpp"
#include "render/text.hpp"

namespace evenstroke {

namespace {

using namespace render;

/// Columns that a cylinder's line takes beside its name and its bar: figure, interval, word.
constexpr int beside_bar = 29;
constexpr int longest_bar = 40;
constexpr int shortest_bar = 5;

/// The scale over the bars, with a mark where "weak" ends.
std::string scale(int cells, double weak_below_pct) {
    std::string marks(static_cast<std::size_t>(cells), ' ');
    const auto put = [&marks, cells](double pct, const std::string& label) {
        auto at = static_cast<int>(std::lround(pct / 100 * cells)) - static_cast<int>(label.size());
        at = std::max(at, 0);
        std::copy(label.begin(), label.end(), marks.begin() + at);
    };
    put(0, "0");
    if (cells >= 12 && weak_below_pct > 0 && weak_below_pct < 100)
        put(weak_below_pct, fmt::format("{:.4g}|", weak_below_pct));
    put(100, "100");
    return marks;
}

void cylinder_lines(Page& page, const Analysis& a, double weak_below_pct) {
    const auto names = cylinder_names(a.angle, a.layout);
    std::size_t label_columns = 0;
    for (const auto& name_of : names)
        label_columns = std::max(label_columns, text_columns(name_of.label) + 1);
    const int cells =
        std::clamp(page.columns - beside_bar - static_cast<int>(label_columns), shortest_bar, longest_bar);
    const bool roomy = page.columns >= beside_bar + static_cast<int>(label_columns) + 2 * shortest_bar;
    std::string head = fmt::format("{} {:>4}  95 %", pad_right("", label_columns - 1), "%");
    if (roomy) head = pad_right(head, label_columns + 17) + scale(cells, weak_below_pct);
    page.text += head + '\n';
    for (std::size_t i = 0; i < a.contribution.cylinders.size() && i < names.size(); ++i) {
        const auto& c = a.contribution.cylinders[i];
        const Verdict word = verdict_at(a.findings, i);
        std::string line = pad_right(names[i].label, label_columns) +
                           pad_left(percent(c.contribution_pct), 4) + "  " + pad_right(interval(c, 3), 11);
        if (roomy) line += bar(c.contribution_pct, c.low_pct, c.high_pct, cells) + "  ";
        const std::string said = name(word);
        page.text += line + (word == Verdict::weak || word == Verdict::low ? page.strong(said) : said) + '\n';
    }
}

void peak_lines(Page& page, const Analysis& a) {
    if (a.findings.verdicts.empty() || a.peaks_kpa.empty()) return;
    page.section("Peak pressure (gauge), from the one that was measured");
    const auto names = cylinder_names(a.angle, a.layout);
    for (std::size_t i = 0; i < a.peaks_kpa.size() && i < names.size(); ++i)
        page.paragraph(fmt::format("{}: {}", names[i].label, fmt::join(peak_parts(a.peaks_kpa[i]), ", ")),
                       "  ");
}

void bullets(Page& page, const std::string& title, const std::vector<std::string>& lines) {
    if (!lines.empty()) page.section(title);
    for (const auto& line : lines) page.paragraph(line, "- ");
}

}  // namespace

std::string summary_text(const Recording& recording, const Analysis& a, const TextStyle& style) {
    Page page{.columns = usable_columns(style.columns), .color = style.color, .text = {}};
    page.verdict(crank_word(a.findings), verdict_said(a.findings));
    if (!a.findings.verdicts.empty()) {
        page.blank();
        cylinder_lines(page, a, a.findings.weak_below_pct);
        for (const auto& line : loss_lines(a)) page.paragraph(line, "  ");
        peak_lines(page, a);
    }
    page.section("Cranking");
    for (const auto& parts : {cranking_parts(a), drive_parts(a.drive)})
        if (!parts.empty()) page.paragraph(fmt::format("{}", fmt::join(parts, ", ")), "  ");
    page.paragraph(source(recording, a), "  ");
    bullets(page, "Also", also_found(a.findings));
    bullets(page, "Notices", notice_sentences(recording, a));
    test_lines(page, a.findings);
    caution_lines(page, "Before testing", a.findings);
    return page.text;
}

}  // namespace evenstroke
