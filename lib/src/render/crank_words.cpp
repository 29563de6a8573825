#include "crank_words.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "judgement_text.hpp"
#include "known.hpp"
#include "render/text.hpp"
#include "values/words.hpp"

namespace evenstroke::render {

namespace {

constexpr const char* unknown = "n/a";

bool finite(const Figure& f) {
    return std::isfinite(f.value) && std::isfinite(f.low) && std::isfinite(f.high);
}

/// "inrush 630 A": as many digits as the unit asks for.
std::string level_words(const char* what, double value, const std::string& unit) {
    if (!std::isfinite(value)) return fmt::format("{} {}", what, unknown);
    if (unit == "A")
        return fmt::format("{} {} A", what,
                           std::abs(value) < 10 ? plain(value, 3) : fmt::format("{:.0f}", value));
    if (unit == "V") return fmt::format("{} {:.2f} V", what, value);
    return fmt::format("{} {} {}", what, plain(value, 4), unit.empty() ? "(no unit)" : printable(unit));
}

/// "loop resistance 19 mΩ (17 to 22)"; as many digits as the size asks for.
std::string figure_words(const char* what, const Figure& f, const char* unit) {
    if (!finite(f)) return fmt::format("{} {}", what, unknown);
    const int decimals = f.value < 10 ? 1 : 0;
    return fmt::format("{} {:.{}f} {} ({:.{}f} to {:.{}f})", what, f.value, decimals, unit, f.low, decimals,
                       f.high, decimals);
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

/// The headline and the cylinders' lines hold these already; their evidence is in the JSON.
bool in_headline(const Finding& finding) {
    constexpr std::string_view codes[] = {"no-verdict", "weak-cylinder", "low-cylinder", "unsure-cylinder"};
    return std::find(std::begin(codes), std::end(codes), finding.code) != std::end(codes);
}

}  // namespace

std::string crank_word(const Findings& findings) {
    const auto& words = findings.verdicts;
    const bool low = std::find(words.begin(), words.end(), Verdict::low) != words.end();
    return findings.outcome == Outcome::even && low ? "LOW" : verdict_word(name(findings.outcome));
}

Verdict verdict_at(const Findings& findings, std::size_t position) {
    return position < findings.verdicts.size() ? findings.verdicts[position] : Verdict::unsure;
}

std::string percent(std::optional<double> value) {
    return value && std::isfinite(*value) ? fmt::format("{:.0f}", *value) : unknown;
}

std::string interval(const CylinderContribution& c, int columns) {
    if (!c.low_pct || !c.high_pct || !std::isfinite(*c.low_pct) || !std::isfinite(*c.high_pct))
        return unknown;
    return fmt::format("{:>{}.0f} to {:>{}.0f}", *c.low_pct, columns, *c.high_pct, columns);
}

std::vector<std::string> loss_lines(const Analysis& a) {
    const auto names = cylinder_names(a.angle, a.layout);
    std::vector<std::string> lines;
    for (std::size_t i = 0; i < a.contribution.cylinders.size() && i < names.size(); ++i) {
        const auto kind = a.contribution.cylinders[i].loss_kind;
        if (!kind) continue;
        lines.push_back(fmt::format("{}: the loss looks like {}", names[i].label,
                                    *kind == LossKind::leak
                                        ? "a leak (the energy of compression is not given back)"
                                        : "low charge or low compression ratio (what is compressed is given "
                                          "back)"));
    }
    return lines;
}

std::vector<std::string> peak_parts(const std::optional<Figure>& peak_kpa) {
    if (!peak_kpa || !finite(*peak_kpa)) return {unknown};
    // The measured one is a point.
    if (peak_kpa->low == peak_kpa->high)
        return {fmt::format("{:.0f} kPa", peak_kpa->value),
                fmt::format("{:.0f} psi, measured", peak_kpa->value * psi_per_kpa)};
    const auto in = [&peak_kpa](const char* unit, double factor) {
        return fmt::format("{:.0f} {} ({:.0f} to {:.0f})", peak_kpa->value * factor, unit,
                           peak_kpa->low * factor, peak_kpa->high * factor);
    };
    return {in("kPa", 1), in("psi", psi_per_kpa)};
}

std::vector<std::string> cranking_parts(const Analysis& a) {
    const Cranking& c = a.cranking;
    std::vector<std::string> parts;
    if (c.no_cranking) return parts;
    if (const auto rpm = mean_speed_rpm(a.angle, a.contribution))
        parts.push_back(fmt::format("{:.0f} rpm", *rpm));
    if (!a.angle.no_reference && a.angle.cycles > 0)
        parts.push_back(fmt::format("{} whole {}", a.angle.cycles, a.angle.cycles == 1 ? "cycle" : "cycles"));
    const auto level = [&](const char* what, std::optional<double> value) {
        if (value) parts.push_back(level_words(what, *value, a.trace.unit));
    };
    level("inrush", c.inrush_a);
    level("mean", c.mean_a);
    level("resting", c.resting_v);
    level("lowest", c.lowest_v);
    level("mean", c.mean_v);
    const auto when = [](double time_s) {
        return std::isfinite(time_s) ? fmt::format("{:.2f}", time_s) : std::string(unknown);
    };
    parts.push_back(fmt::format("{} to {} s", when(c.start_s), when(c.end_s)));
    parts.push_back(fmt::format("ended by {}", name(c.ended_by)));
    return parts;
}

std::vector<std::string> drive_parts(const DriveFigures& drive) {
    std::vector<std::string> parts;
    const auto add = [&parts](const char* what, const std::optional<Figure>& figure, const char* unit) {
        if (figure) parts.push_back(figure_words(what, *figure, unit));
    };
    add("stall current", drive.stall_a, "A");
    add("loop resistance", drive.loop_mohm, "mΩ");
    add("cranking torque", drive.torque_nm, "N·m");
    add("of which engine friction", drive.friction_nm, "N·m");
    return parts;
}

std::string path_words(const Recording& recording) {
    return printable(recording.path == "-" ? "standard input" : recording.path);
}

std::string source(const Recording& recording, const Analysis& a) {
    std::string text = path_words(recording);
    if (!a.trace.channel.empty())
        text += fmt::format(", {} from \"{}\" ({})", name(a.trace.quantity), printable(a.trace.channel),
                            printable(a.trace.why));
    text += ", " + reference_words(a);
    if (!a.drive.battery_channel.empty())
        text += fmt::format(", battery \"{}\"", printable(a.drive.battery_channel));
    return text;
}

std::vector<std::string> also_found(const Findings& findings) {
    std::vector<std::string> sentences;
    for (const auto& finding : findings.findings)
        if (!in_headline(finding)) sentences.push_back(sentence(printable(finding.text)));
    return sentences;
}

std::vector<std::string> notice_sentences(const Recording& recording, const Analysis& analysis) {
    std::vector<std::string> sentences;
    for (const auto& notice : all_notices(recording, analysis))
        sentences.push_back(sentence(printable(notice.text)));
    return sentences;
}

}  // namespace evenstroke::render
