// The summary: verdict first, then a line a cylinder, figures, notices, next tests, cautions.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <string_view>

#include "evenstroke/render.hpp"
#include "known.hpp"
#include "page.hpp"
#include "render/text.hpp"
#include "values/words.hpp"

namespace evenstroke {

namespace {

using namespace render;

/// Columns that a cylinder's line takes beside its name and its bar: figure, interval, word.
constexpr int beside_bar = 29;
constexpr int longest_bar = 40;
constexpr int shortest_bar = 5;

void verdict(Page& page, const Findings& findings) {
    const bool low = findings.outcome == Outcome::even &&
                     std::count(findings.verdicts.begin(), findings.verdicts.end(), Verdict::low) > 0;
    const std::string word = findings.outcome == Outcome::inconclusive ? "NO VERDICT"
                             : findings.outcome == Outcome::weak       ? "WEAK"
                             : low                                     ? "LOW"
                                                                       : "EVEN";
    // The sentence of an inconclusive result begins with the same words: they are not said twice.
    const std::string_view repeated = "No verdict: ";
    std::string_view said = findings.headline;
    if (said.starts_with(repeated)) said.remove_prefix(repeated.size());
    page.verdict(word, said);
}

std::string percent(std::optional<double> value) {
    return value && std::isfinite(*value) ? fmt::format("{:.0f}", *value) : "n/a";
}

std::string interval(const CylinderContribution& c) {
    if (!c.low_pct || !c.high_pct || !std::isfinite(*c.low_pct) || !std::isfinite(*c.high_pct)) return "n/a";
    return fmt::format("{:>3.0f} to {:>3.0f}", *c.low_pct, *c.high_pct);
}

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
        put(weak_below_pct, fmt::format("{:.0f}|", weak_below_pct));
    put(100, "100");
    return marks;
}

void cylinder_lines(Page& page, const Analysis& a, double weak_below_pct) {
    const auto names = cylinder_names(a.angle, a.layout);
    std::size_t label_columns = 0;
    for (const auto& name_of : names) label_columns = std::max(label_columns, width(name_of.label) + 1);
    const int cells =
        std::clamp(page.columns - beside_bar - static_cast<int>(label_columns), shortest_bar, longest_bar);
    const bool roomy = page.columns >= beside_bar + static_cast<int>(label_columns) + 2 * shortest_bar;
    std::string head = fmt::format("{} {:>4}  95 %", pad_right("", label_columns - 1), "%");
    if (roomy) head = pad_right(head, label_columns + 17) + scale(cells, weak_below_pct);
    page.text += head + '\n';
    for (std::size_t i = 0; i < a.contribution.cylinders.size() && i < names.size(); ++i) {
        const auto& c = a.contribution.cylinders[i];
        const Verdict word = a.findings.verdicts.empty() ? Verdict::unsure : a.findings.verdicts[i];
        std::string line = pad_right(names[i].label, label_columns) +
                           pad_left(percent(c.contribution_pct), 4) + "  " + pad_right(interval(c), 11);
        if (roomy) line += bar(c.contribution_pct, c.low_pct, c.high_pct, cells) + "  ";
        const std::string said = name(word);
        page.text += line + (word == Verdict::weak || word == Verdict::low ? page.strong(said) : said) + '\n';
    }
}

std::string figures(const Analysis& a) {
    const auto& c = a.cranking;
    std::string text;
    const auto add = [&text](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
    if (!a.angle.no_reference && a.angle.speed_rpm > 0) add(fmt::format("{:.0f} rpm", a.angle.speed_rpm));
    if (!a.angle.no_reference && a.angle.cycles > 0)
        add(fmt::format("{} whole {}", a.angle.cycles, a.angle.cycles == 1 ? "cycle" : "cycles"));
    const auto level = [&](const char* what, std::optional<double> value) {
        if (!value) return;
        const std::string& unit = a.trace.unit;
        if (unit == "A")
            add(fmt::format("{} {} A", what,
                            std::abs(*value) < 10 ? plain(*value, 3) : fmt::format("{:.0f}", *value)));
        else if (unit == "V")
            add(fmt::format("{} {:.2f} V", what, *value));
        else
            add(fmt::format("{} {} {}", what, plain(*value, 4),
                            unit.empty() ? "(no unit)" : printable(unit)));
    };
    level("inrush", c.inrush_a);
    level("mean", c.mean_a);
    level("resting", c.resting_v);
    level("lowest", c.lowest_v);
    level("mean", c.mean_v);
    add(fmt::format("{:.2f} to {:.2f} s", c.start_s, c.end_s));
    add(fmt::format("ended by {}", name(c.ended_by)));
    return text;
}

/// "loop resistance 19.2 mΩ (17.0 to 22.1)"; as many digits as the size asks for.
std::string figure_words(const char* what, const Figure& f, const char* unit) {
    const int decimals = f.value < 10 ? 1 : 0;
    return fmt::format("{} {:.{}f} {} ({:.{}f} to {:.{}f})", what, f.value, decimals, unit, f.low, decimals,
                       f.high, decimals);
}

/// What the fit tells of the starter and the engine's drag; empty when nothing.
std::string drive_words(const DriveFigures& drive) {
    std::string text;
    const auto add = [&text](const char* what, const std::optional<Figure>& figure, const char* unit) {
        if (figure) text += (text.empty() ? "" : ", ") + figure_words(what, *figure, unit);
    };
    add("stall current", drive.stall_a, "A");
    add("loop resistance", drive.loop_mohm, "mΩ");
    add("cranking torque", drive.torque_nm, "N·m");
    add("of it engine friction", drive.friction_nm, "N·m");
    return text;
}

/// What the losses look like, where the fit can tell.
void loss_lines(Page& page, const Analysis& a) {
    const auto names = cylinder_names(a.angle, a.layout);
    for (std::size_t i = 0; i < a.contribution.cylinders.size() && i < names.size(); ++i) {
        const auto kind = a.contribution.cylinders[i].loss_kind;
        if (!kind) continue;
        page.paragraph(fmt::format("{}: the loss looks like {}", names[i].label,
                                   *kind == LossKind::leak
                                       ? "a leak (the energy of compression is not given back)"
                                       : "low charge or low compression ratio (what is compressed is given "
                                         "back)"),
                       "  ");
    }
}

void peak_lines(Page& page, const Analysis& a) {
    if (a.findings.verdicts.empty() || a.peaks_kpa.empty()) return;
    page.section("Peak pressure (gauge), from the one that was measured");
    const auto names = cylinder_names(a.angle, a.layout);
    for (std::size_t i = 0; i < a.peaks_kpa.size() && i < names.size(); ++i) {
        const auto& peak = a.peaks_kpa[i];
        page.paragraph(peak ? fmt::format("{}: {:.0f} kPa ({:.0f} to {:.0f}), {:.0f} psi ({:.0f} to {:.0f})",
                                          names[i].label, peak->value, peak->low, peak->high,
                                          peak->value * psi_per_kpa(), peak->low * psi_per_kpa(),
                                          peak->high * psi_per_kpa())
                            : names[i].label + ": n/a",
                       "  ");
    }
}

std::string reference_words(const Analysis& a) {
    const CrankAngle& angle = a.angle;
    if (angle.no_reference || angle.kind == ReferenceKind::none) return "no reference";
    const bool own_teeth = a.trace.quantity == Quantity::wheel && angle.channel == a.trace.channel;
    std::string text = own_teeth ? "angle from its own teeth"
                                 : fmt::format("{} \"{}\"", name(angle.kind), printable(angle.channel));
    if (!angle.sync_channel.empty()) text += fmt::format(", sync \"{}\"", printable(angle.sync_channel));
    return text;
}

std::string source(const Recording& recording, const Analysis& a) {
    std::string text = printable(recording.path == "-" ? "standard input" : recording.path);
    if (!a.trace.channel.empty())
        text += fmt::format(", {} from \"{}\" ({})", name(a.trace.quantity), printable(a.trace.channel),
                            printable(a.trace.why));
    return text + ", " + reference_words(a);
}

/// The headline and the cylinders' lines hold these already; their evidence is in the JSON.
bool in_headline(const Finding& finding) {
    constexpr std::string_view codes[] = {"no-verdict", "weak-cylinder", "low-cylinder", "unsure-cylinder"};
    return std::find(std::begin(codes), std::end(codes), finding.code) != std::end(codes);
}

}  // namespace

std::string summary_text(const Recording& recording, const Analysis& a, const TextStyle& style) {
    Page page{.columns = usable_columns(style.columns), .color = style.color, .text = {}};
    verdict(page, a.findings);
    if (!a.findings.verdicts.empty()) {
        page.blank();
        cylinder_lines(page, a, a.findings.weak_below_pct);
        loss_lines(page, a);
        peak_lines(page, a);
    }
    page.section("Cranking");
    if (!a.cranking.no_cranking) page.paragraph(figures(a), "  ");
    if (const auto drive = drive_words(a.drive); !drive.empty()) page.paragraph(drive, "  ");
    page.paragraph(source(recording, a), "  ");
    bool titled = false;
    for (const auto& finding : a.findings.findings) {
        if (in_headline(finding)) continue;
        if (!titled) page.section("Also");
        titled = true;
        page.paragraph(sentence(printable(finding.text)), "- ");
    }
    const auto notices = all_notices(recording, a);
    if (!notices.empty()) page.section("Notices");
    for (const auto& notice : notices) page.paragraph(sentence(printable(notice.text)), "- ");
    if (!a.findings.next_tests.empty()) page.section("Test next");
    int number = 0;
    for (const auto& test : a.findings.next_tests) page.paragraph(test.text, fmt::format("{}. ", ++number));
    if (!a.findings.cautions.empty()) page.section("Before testing");
    for (const auto& caution : a.findings.cautions) page.paragraph(caution, "! ");
    return page.text;
}

}  // namespace evenstroke
