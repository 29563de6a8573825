// The summary of `pressure`: verdict first, then figures with their intervals, notices, next tests, cautions.
#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "evenstroke/render.hpp"
#include "text.hpp"

namespace evenstroke {

namespace {

using namespace render;

struct Page {
    int columns;
    bool color;
    std::string text;

    void line(std::string_view what, const std::string& value) {
        constexpr std::size_t label_columns = 24;
        text += wrap(value, columns, pad_right(fmt::format("  {}", what), label_columns));
    }
    void section(const char* title) {
        text += '\n';
        text += color ? fmt::format("\x1b[1m{}\x1b[0m\n", title) : fmt::format("{}\n", title);
    }
};

std::string figure(const Figure& f, int decimals, const char* unit) {
    return fmt::format("{:.{}f}{} ({:.{}f} to {:.{}f})", f.value, decimals, unit, f.low, decimals, f.high,
                       decimals);
}

std::string percent(const Figure& f) {
    return figure({100 * f.value, 100 * f.low, 100 * f.high}, 0, " %");
}

std::string verdict_word(PressureVerdict verdict) {
    if (verdict == PressureVerdict::inconclusive) return "NO VERDICT";
    std::string word = name(verdict);
    std::transform(word.begin(), word.end(), word.begin(),
                   [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; });
    return word;
}

void figures(Page& page, const Pressure& p) {
    const auto used =
        std::count_if(p.pulses.begin(), p.pulses.end(), [](const PressurePulse& x) { return x.used; });
    if (!p.pulses.empty()) page.line("compressions", fmt::format("{}, {} used", p.pulses.size(), used));
    if (p.peak_kpa)
        page.line("peak, absolute",
                  figure(*p.peak_kpa, 0, " kPa") +
                      (p.peak_sd_kpa ? fmt::format(", cycle to cycle {:.1f} kPa", *p.peak_sd_kpa) : ""));
    if (p.first_pulse_ratio)
        page.line(p.kind == PressureKind::staircase ? "first puff" : "first compression",
                  fmt::format("{:.0f} % of the {} (gauge)", 100 * *p.first_pulse_ratio,
                              p.kind == PressureKind::staircase ? "last" : "others"));
    if (p.speed_rpm) page.line("speed", figure(*p.speed_rpm, 1, " rpm"));
    if (p.speed_least_rpm && p.speed_most_rpm)
        page.line("swing about TDC",
                  fmt::format("{:.0f} to {:.0f} rpm", *p.speed_least_rpm, *p.speed_most_rpm));
    if (p.loss_angle_deg) page.line("peak before TDC", figure(*p.loss_angle_deg, 2, " deg"));
    if (p.leak_mm2) page.line("effective leak", figure(*p.leak_mm2, 2, " mm2"));
    if (p.sealed_ratio) page.line("peak over sealed", percent(*p.sealed_ratio));
    if (p.trapped_ratio) page.line("trapped charge", percent(*p.trapped_ratio) + " of a full cylinder");
    if (p.compression_exponent) page.line("compression exponent", figure(*p.compression_exponent, 3, ""));
    if (p.expansion_exponent) page.line("expansion exponent", figure(*p.expansion_exponent, 3, ""));
    if (p.compression_ratio && !p.ratio_known)
        page.line("compression ratio", figure(*p.compression_ratio, 1, ""));
    if (p.intake_closes_deg)
        page.line("intake closes", fmt::format("about {:.0f} deg before firing TDC", -*p.intake_closes_deg));
    if (p.exhaust_opens_deg)
        page.line("exhaust opens", fmt::format("about {:.0f} deg after firing TDC", *p.exhaust_opens_deg));
    if (p.intake_kpa && p.exhaust_kpa)
        page.line("plateaux, absolute",
                  fmt::format("intake {:.1f}, exhaust {:.1f} kPa", *p.intake_kpa, *p.exhaust_kpa));
    if (p.sensor_offset_kpa)
        page.line("sensor offset", figure(*p.sensor_offset_kpa, 1, " kPa") +
                                       (p.gauge ? ", gauge readings" : ", absolute readings"));
}

}  // namespace

std::string pressure_summary_text(const Recording& recording, const PressureReport& report,
                                  const TextStyle& style) {
    const Pressure& p = report.pressure;
    const PressureFindings& f = report.findings;
    Page page{usable_columns(style.columns), style.color, {}};
    const std::string word = verdict_word(f.outcome);
    const std::string_view repeated = "No verdict: ";
    std::string_view said = f.headline;
    if (said.starts_with(repeated)) said.remove_prefix(repeated.size());
    std::string first = wrap(sentence(printable(said)), page.columns, word + "  ");
    if (page.color) first.replace(0, word.size(), "\x1b[1m" + word + "\x1b[0m");
    page.text += first;
    page.section("Pressure");
    figures(page, p);
    page.text +=
        wrap(fmt::format("{}, \"{}\"", printable(recording.path == "-" ? "standard input" : recording.path),
                         printable(p.channel)),
             page.columns, "  ");
    if (!f.findings.empty()) page.section("Findings");
    for (const auto& finding : f.findings)
        page.text += wrap(sentence(printable(finding.text)), page.columns, "- ");
    if (!recording.notices.empty() || !p.notices.empty()) page.section("Notices");
    for (const auto* list : {&recording.notices, &p.notices})
        for (const auto& notice : *list)
            page.text += wrap(sentence(printable(notice.text)), page.columns, "- ");
    if (!f.next_tests.empty()) page.section("Test next");
    int number = 0;
    for (const auto& test : f.next_tests)
        page.text += wrap(test.text, page.columns, fmt::format("{}. ", ++number));
    page.section("Before cranking again");
    for (const auto& caution : f.cautions) page.text += wrap(caution, page.columns, "! ");
    return page.text;
}

}  // namespace evenstroke
