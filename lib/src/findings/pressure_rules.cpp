// What one cylinder's pressure says about it: the way to a verdict.
#include <fmt/core.h>

#include <utility>

#include "pressure_context.hpp"
#include "sentences.hpp"
#include "test_table.hpp"

namespace evenstroke {

namespace findings {

void PressureContext::finding(const char* code, std::string text, std::vector<std::string> evidence) {
    out.findings.push_back({code, std::move(text), std::move(evidence)});
}

void PressureContext::test(const char* key) {
    out.next_tests.push_back(suggested(key, {.who = "this cylinder", .with = "the recording"}));
}

void PressureContext::inconclusive(const std::string& reason) {
    out.outcome = PressureVerdict::inconclusive;
    leave_open(out, reason);
}

double PressureContext::at_sea(double gauge_pressure) const {
    return options.altitude_m ? gauge_pressure * ambient_at_kpa(0) / p.ambient_kpa : gauge_pressure;
}

namespace {

/// Goes on with the sentence.
void append(std::string& sentence, const std::string& clause) {
    if (sentence.ends_with('.')) sentence.pop_back();
    sentence += "; " + clause + ".";
}

/// What was asked for and not found must not look as if it had been found in order.
void say_untimed(PressureContext& c) {
    const bool closing = c.options.expect_intake_closes_deg && !c.p.intake_closes_deg;
    const bool opening = c.options.expect_exhaust_opens_deg && !c.p.exhaust_opens_deg;
    if (!closing && !opening) return;
    const std::string clause =
        fmt::format("{} not found, so it is not known whether {} in time",
                    closing && opening ? "the intake's closing and the exhaust's opening were"
                    : closing          ? "the intake's closing was"
                                       : "the exhaust's opening was",
                    closing && opening ? "they are" : "it is");
    append(c.out.headline, clause);
    if (c.out.no_verdict) append(*c.out.no_verdict, clause);
    c.finding("timing-not-found", capitalised(clause));
}

}  // namespace

}  // namespace findings

const char* name(PressureVerdict verdict) {
    switch (verdict) {
        case PressureVerdict::sealing:
            return "sealing";
        case PressureVerdict::leaking:
            return "leaking";
        case PressureVerdict::low_charge:
            return "low charge";
        case PressureVerdict::low_compression:
            return "low compression";
        case PressureVerdict::late_valves:
            return "late valves";
        case PressureVerdict::early_valves:
            return "early valves";
        case PressureVerdict::inconclusive:
            break;
    }
    return "inconclusive";
}

PressureFindings judge_pressure(const Pressure& pressure, const PressureOptions& options) {
    findings::PressureContext c{pressure, options, {}};
    if (pressure.inconclusive)
        c.inconclusive(*pressure.inconclusive);
    else if (pressure.kind == PressureKind::staircase)
        judge_gauge(c);
    else
        judge_motored(c);
    findings::say_untimed(c);
    suggest_tests(c);
    c.out.cautions = findings::cautions_of(c.out.next_tests, findings::cranking_dangers());
    return c.out;
}

}  // namespace evenstroke
