// The summary of `pressure`: verdict first, then figures with their intervals, notices, next tests, cautions.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string_view>

#include "csv_cell.hpp"
#include "evenstroke/render.hpp"
#include "judgement_text.hpp"
#include "known.hpp"
#include "page.hpp"

namespace evenstroke {

namespace {

using namespace render;

/// One figure: what it is, and its value wrapped beside it.
void line(Page& page, std::string_view what, const std::string& value) {
    constexpr std::size_t label_columns = 24;
    page.paragraph(value, pad_right(fmt::format("  {}", what), label_columns));
}

/// Whether the figure and its interval can be shown.
bool known(const std::optional<Figure>& f) {
    return f && std::isfinite(f->value) && std::isfinite(f->low) && std::isfinite(f->high);
}

std::string figure(const Figure& f, int decimals, const char* unit) {
    return fmt::format("{}{} ({} to {})", cell(f.value, decimals), unit, cell(f.low, decimals),
                       cell(f.high, decimals));
}

std::string share_pct(const Figure& f) {
    return figure({100 * f.value, 100 * f.low, 100 * f.high}, 0, " %");
}

void peak(Page& page, const Pressure& p) {
    if (!known(p.peak_kpa)) return;
    std::string text = figure(*p.peak_kpa, 0, " kPa");
    if (p.peak_sd_kpa && std::isfinite(*p.peak_sd_kpa))
        text += fmt::format(", cycle to cycle {} kPa", cell(p.peak_sd_kpa, 1));
    line(page, "peak, absolute", text);
    const double gauge_kpa = p.peak_kpa->value - p.ambient_kpa;
    line(page, "peak, gauge",
         fmt::format("{} kPa ({} psi)", cell(gauge_kpa, 0), cell(gauge_kpa * psi_per_kpa, 0)));
}

void events(Page& page, const Pressure& p) {
    if (p.intake_closes_deg && std::isfinite(*p.intake_closes_deg))
        line(page, "intake closes", fmt::format("about {:.0f}° before firing TDC", -*p.intake_closes_deg));
    if (p.exhaust_opens_deg && std::isfinite(*p.exhaust_opens_deg))
        line(page, "exhaust opens", fmt::format("about {:.0f}° after firing TDC", *p.exhaust_opens_deg));
    if (p.intake_kpa && p.exhaust_kpa && std::isfinite(*p.intake_kpa + *p.exhaust_kpa))
        line(page, "plateaux, absolute",
             fmt::format("intake {}, exhaust {} kPa", cell(p.intake_kpa, 1), cell(p.exhaust_kpa, 1)));
}

void figures(Page& page, const Pressure& p) {
    const bool gauge = p.kind == PressureKind::staircase;
    const auto used =
        std::count_if(p.pulses.begin(), p.pulses.end(), [](const PressurePulse& x) { return x.used; });
    if (!p.pulses.empty()) line(page, "compressions", fmt::format("{}, {} used", p.pulses.size(), used));
    peak(page, p);
    if (p.first_pulse_ratio && std::isfinite(*p.first_pulse_ratio))
        line(page, gauge ? "first puff" : "first compression",
             fmt::format("{:.0f} % of the {} (gauge)", 100 * *p.first_pulse_ratio,
                         gauge ? "highest" : "others"));
    if (known(p.speed_rpm)) line(page, "speed", figure(*p.speed_rpm, 1, " rpm"));
    if (p.speed_least_rpm && p.speed_most_rpm && std::isfinite(*p.speed_least_rpm + *p.speed_most_rpm))
        line(page, "swing about TDC",
             fmt::format("{:.0f} to {:.0f} rpm", *p.speed_least_rpm, *p.speed_most_rpm));
    if (known(p.loss_angle_deg)) line(page, "peak before TDC", figure(*p.loss_angle_deg, 2, "°"));
    if (known(p.leak_mm2)) line(page, "effective leak", figure(*p.leak_mm2, 2, " mm²"));
    if (known(p.sealed_ratio)) line(page, "peak over sealed", share_pct(*p.sealed_ratio));
    if (known(p.trapped_ratio))
        line(page, "trapped charge", share_pct(*p.trapped_ratio) + " of a full cylinder");
    if (known(p.compression_exponent))
        line(page, "compression exponent", figure(*p.compression_exponent, 3, ""));
    if (known(p.expansion_exponent)) line(page, "expansion exponent", figure(*p.expansion_exponent, 3, ""));
    if (known(p.compression_ratio) && p.ratio_fitted())
        line(page, "compression ratio", figure(*p.compression_ratio, 1, ""));
    events(page, p);
    if (known(p.sensor_offset_kpa))
        line(
            page, "sensor offset",
            figure(*p.sensor_offset_kpa, 1, " kPa") + (p.gauge ? ", gauge readings" : ", absolute readings"));
}

/// The headline and the figures hold these already; their evidence is in the JSON.
bool in_figures(const Finding& finding) {
    constexpr std::string_view codes[] = {"sealing", "leaking", "sealing-figures", "timing-not-found"};
    return std::find(std::begin(codes), std::end(codes), finding.code) != std::end(codes);
}

}  // namespace

std::string pressure_summary_text(const Recording& recording, const PressureReport& report,
                                  const TextStyle& style) {
    const Pressure& p = report.pressure;
    const PressureFindings& f = report.findings;
    Page page{.columns = usable_columns(style.columns), .color = style.color, .text = {}};
    page.verdict(verdict_word(name(f.outcome)), verdict_said(f));
    page.section("Pressure");
    figures(page, p);
    page.paragraph(
        fmt::format("{}, \"{}\"", printable(recording.path == "-" ? "standard input" : recording.path),
                    printable(p.channel)),
        "  ");
    bool titled = false;
    for (const auto& finding : f.findings) {
        if (in_figures(finding)) continue;
        if (!titled) page.section("Also");
        titled = true;
        page.paragraph(sentence(printable(finding.text)), "- ");
    }
    if (!recording.notices.empty() || !p.notices.empty()) page.section("Notices");
    for (const auto* list : {&recording.notices, &p.notices})
        for (const auto& notice : *list) page.paragraph(sentence(printable(notice.text)), "- ");
    test_lines(page, f);
    caution_lines(page, "Before cranking again", f);
    return page.text;
}

}  // namespace evenstroke
