#include "crank_options.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstring>
#include <iterator>

#include "evenstroke/error.hpp"
#include "option_values.hpp"

namespace evenstroke::cli {

namespace {

/// Throws Error{bad_option} unless `fits`.
void must(bool fits, const char* option, const std::string& text, const char* problem, const char* remedy) {
    if (!fits) throw Error(ErrorCode::bad_option, option, text + " " + problem, remedy);
}

Quantity quantity(const std::string& text) {
    for (const Quantity q : {Quantity::current, Quantity::voltage, Quantity::wheel})
        if (text == name(q)) return q;
    throw BadUsage(fmt::format("\"{}\" is not a quantity: current, voltage or wheel", text));
}

void set_order(CrankRequest& r, const std::string& text) {
    r.order.clear();
    for (const auto& part : split(text, "-,")) r.order.push_back(whole_number(part));
}

void set_intervals(CrankRequest& r, const std::string& text) {
    r.intervals_deg.clear();
    for (const auto& part : split(text, ",;")) r.intervals_deg.push_back(number(part));
}

void set_rate(CrankRequest& r, const std::string& text) {
    r.read.rate_hz = number(text);
    must(*r.read.rate_hz > 0, "--rate", text, "is not a sample rate",
         "give samples per second, as in --rate 10000");
}

void set_scale(CrankRequest& r, const std::string& text) {
    r.trace.scale = number(text);
    must(*r.trace.scale != 0, "--scale", text, "would make every value 0",
         "give units per recorded unit, as in --scale 100 for 10 mV/A");
}

void set_sync_lead(CrankRequest& r, const std::string& text) {
    constexpr double cycle = 720;
    r.sync_lead_deg = number(text);
    must(std::abs(*r.sync_lead_deg) <= cycle, "--sync-lead", text, "is more than a cycle of 720 degrees",
         "give the crank degrees from the mark to TDC, as in --sync-lead 60");
}

void set_weak_below(CrankRequest& r, const std::string& text) {
    r.findings.weak_below_pct = number(text);
    must(r.findings.weak_below_pct > 0 && r.findings.weak_below_pct < 100, "--weak-below", text,
         "is not between 0 and 100 percent",
         "give a percentage of the highest cylinder, as in --weak-below 75");
}

void set_reference_peak(CrankRequest& r, const std::string& text) {
    r.reference_peak_kpa = number(text);
    constexpr double least_kpa = 50;  // a figure in bar is less, and a dead cylinder is no reference
    must(*r.reference_peak_kpa >= least_kpa, "--reference-peak", text,
         "is too low for a compression pressure in kPa",
         "give the gauge reading in kPa above ambient: 11.5 bar or 167 psi is --reference-peak 1150");
}

/// A measured pressure belongs to a cylinder with a name.
std::optional<ReferencePeak> reference_peak(const CrankRequest& r) {
    if (!r.reference_peak_kpa && !r.reference_cylinder) return std::nullopt;
    if (!r.reference_peak_kpa || !r.reference_cylinder)
        throw BadUsage("--reference-peak and --reference-cylinder belong together: give both");
    if (r.order.empty() || (!r.reference.sync && !r.reference.wheel))
        throw BadUsage(
            "--reference-cylinder needs cylinders with names: add --order and a reference, --sync or "
            "--wheel");
    return ReferencePeak{.kpa = *r.reference_peak_kpa, .cylinder = *r.reference_cylinder};
}

constexpr const char* engine = "Engine";
constexpr const char* signal = "Recording";
constexpr const char* angle = "Reference";
constexpr const char* judging = "Verdict";

constexpr CrankOption options[] = {
    {"cylinders", "N", engine, "Number of cylinders, 1 to 16. A recording needs it, --order or --intervals.",
     [](CrankRequest& r, const std::string& text) { r.cylinders = whole_number(text); }},
    {"order", "1-3-4-2", engine, "Firing order; gives each result its cylinder number. Default: not known.",
     set_order},
    {"intervals", "DEG,DEG,...", engine,
     "Crank degrees from each firing TDC to the next, starting at the reference cylinder; they sum to 720. "
     "Default: even.",
     set_intervals},
    {"channel", "NAME|NUMBER", signal,
     "Channel to analyse, by name or counted from 1. Default: the one that looks most like cranking.",
     [](CrankRequest& r, const std::string& text) { r.trace.channel = text; }},
    {"quantity", "WORD", signal,
     "What the channel measures: current, voltage (of the battery) or wheel. Default: what it looks like.",
     [](CrankRequest& r, const std::string& text) { r.trace.quantity = quantity(text); }},
    {"scale", "FACTOR", signal,
     "Amperes or volts per recorded unit; full scale for audio files. Default: from the recorded unit.",
     set_scale},
    {"rate", "HZ", signal,
     "Samples per second of a text file that gives neither time nor rate. Default: from the file.", set_rate},
    {"from", "S", signal, "Analyse from this time on, in s of the recording. Default: its start.",
     [](CrankRequest& r, const std::string& text) { r.cranking.from_s = number(text); }},
    {"to", "S", signal, "Analyse up to this time, in s of the recording. Default: its end.",
     [](CrankRequest& r, const std::string& text) { r.cranking.to_s = number(text); }},
    {"sync", "NAME|NUMBER", angle,
     "Channel with one mark per 720 (or 360) degrees; with --wheel, also the wheel itself. Default: none; "
     "positions are then given instead of cylinders.",
     [](CrankRequest& r, const std::string& text) { r.reference.sync = text; }},
    {"sync-cylinder", "N", angle, "The cylinder that the mark belongs to. Default: the first of --order.",
     [](CrankRequest& r, const std::string& text) { r.sync_cylinder = whole_number(text); }},
    {"sync-lead", "DEG", angle,
     "Crank degrees from the mark's leading edge (for a wheel, the first tooth after its gap) to that "
     "cylinder's firing TDC. Default: 0; for a wheel, or a cam beside one, not known.",
     set_sync_lead},
    {"wheel", "TEETH-MISSING", angle,
     "Toothed wheel, such as 60-2, 36-1 or 24-0, or a list of pitches in degrees. Default: none.",
     [](CrankRequest& r, const std::string& text) { r.reference.wheel = parse_wheel(text); }},
    {"weak-below", "PCT", judging,
     "A cylinder is weak when its whole 95 % interval lies below this percentage of the highest. Default: "
     "75.",
     set_weak_below},
    {"reference-peak", "KPA", judging,
     "Peak gauge pressure of --reference-cylinder, measured while cranking, in kPa; every cylinder's is then "
     "given. Default: none.",
     set_reference_peak},
    {"reference-cylinder", "N", judging,
     "The cylinder in which --reference-peak was measured. Default: none.",
     [](CrankRequest& r, const std::string& text) { r.reference_cylinder = whole_number(text); }},
};

Option flag(CrankRequest& request, const CrankOption& row) {
    const auto set = [&request, &row](const std::string& text) { row.set(request, text); };
    return {std::string("--") + row.name, row.value, row.group, row.help, set};
}

}  // namespace

std::span<const CrankOption> crank_options() {
    return options;
}

std::vector<Option> crank_flags(CrankRequest& request) {
    std::vector<Option> flags;
    for (const CrankOption& row : options) flags.push_back(flag(request, row));
    return flags;
}

Option crank_flag(CrankRequest& request, std::string_view name) {
    const auto row = std::find_if(std::begin(options), std::end(options),
                                  [name](const CrankOption& option) { return name == option.name; });
    assert(row != std::end(options));
    return flag(request, *row);
}

AnalyseOptions analyse_options(const CrankRequest& r) {
    if (!r.cylinders && r.order.empty() && r.intervals_deg.empty())
        throw BadUsage("the number of cylinders is not known: give --cylinders 4, or --order 1-3-4-2");
    if (!r.reference.sync && !r.reference.wheel && (r.sync_cylinder || r.sync_lead_deg))
        throw BadUsage("--sync-cylinder and --sync-lead belong to a reference: add --sync or --wheel");
    if (r.cranking.from_s && r.cranking.to_s && *r.cranking.from_s >= *r.cranking.to_s)
        throw Error(ErrorCode::bad_option, "--from, --to", "nothing lies between them",
                    "give a --from before --to, in s of the recording");
    AnalyseOptions all{.layout = make_layout(r.cylinders, r.order, r.intervals_deg, r.sync_cylinder),
                       .trace = r.trace,
                       .cranking = r.cranking,
                       .reference = r.reference,
                       .findings = r.findings,
                       .reference_peak = reference_peak(r)};
    all.reference.sync_lead_deg = r.sync_lead_deg.value_or(0);
    // Counted from the wheel's gap where no other channel marks the cycle; the library decides which it is.
    all.reference.wheel_lead_deg = r.sync_lead_deg;
    return all;
}

}  // namespace evenstroke::cli
