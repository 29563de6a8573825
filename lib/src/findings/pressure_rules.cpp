// What one cylinder's pressure says about it: the way to a verdict.
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
    suggest_tests(c);
    c.out.cautions = findings::cautions_of(c.out.next_tests, findings::cranking_dangers());
    return c.out;
}

}  // namespace evenstroke
