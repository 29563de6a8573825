// evenstroke pressure: what one in-cylinder transducer says about one cylinder.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "commands.hpp"
#include "crank_options.hpp"
#include "documents.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/render.hpp"
#include "report.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

constexpr double metres_per_mm = 1e-3;

struct PressureRequest {
    CrankRequest shared;  ///< channel, rate, from and to, as `crank` has them
    PressureOptions options;
    std::optional<double> bore_mm, stroke_mm, rod_mm;
    bool gauge = false;
    bool absolute = false;
    std::string json, pulses, wave, cycle;
};

Documents<PressureReport> documents_of(const std::string& recording, const PressureRequest& r) {
    return Documents<PressureReport>(
        recording,
        {
            {r.json, pressure_json},
            {r.pulses, [](const Recording&, const PressureReport& p) { return pressure_pulses_csv(p); }},
            {r.wave, [](const Recording&, const PressureReport& p) { return pressure_wave_csv(p); }},
            {r.cycle, [](const Recording&, const PressureReport& p) { return pressure_cycle_csv(p); }},
        });
}

void in_range(const std::optional<double>& value, double low, double high, const char* option,
              const char* remedy) {
    if (value && !(*value >= low && *value <= high))
        throw Error(ErrorCode::bad_option, option, "the value lies outside its range", remedy);
}

/// Degrees after firing TDC between which engines have a valve event (from memory: an intake that closes
/// early does so up to 40 degrees before the bottom, one that closes late up to 140 after it; an exhaust
/// opens at most 90 before the bottom, which keeps every manual's figure before the bottom out).
struct EventRange {
    const char* option;
    double low_deg, high_deg;
    double usual_deg;
};
constexpr EventRange intake_closes{"--expect-intake-closes", -220, -40, -125};
constexpr EventRange exhaust_opens{"--expect-exhaust-opens", 90, 200, 135};

/// An event as `reference` counts it, in degrees after firing TDC.
struct Counted {
    double after_firing_deg;
    const char* reference;
};

/// Refuses an angle that no engine has, and says what it is if it was counted as manuals do: in the way that
/// comes nearest to the usual engine.
void event_in_range(const std::optional<double>& given_deg, const EventRange& range,
                    const std::vector<Counted>& ways) {
    if (!given_deg || (*given_deg >= range.low_deg && *given_deg <= range.high_deg)) return;
    const auto off_deg = [&](const Counted& way) { return std::abs(way.after_firing_deg - range.usual_deg); };
    const Counted nearest =
        *std::min_element(ways.begin(), ways.end(),
                          [&](const Counted& a, const Counted& b) { return off_deg(a) < off_deg(b); });
    std::string remedy = fmt::format("give crank degrees after firing TDC, {:g} to {:g}, as in {} {:g}",
                                     range.low_deg, range.high_deg, range.option, range.usual_deg);
    if (nearest.after_firing_deg >= range.low_deg && nearest.after_firing_deg <= range.high_deg)
        remedy +=
            fmt::format("; {:g} degrees {} is {:g}", *given_deg, nearest.reference, nearest.after_firing_deg);
    throw Error(ErrorCode::bad_option, range.option,
                fmt::format("no engine has this valve event {:g} degrees after firing TDC", *given_deg),
                remedy);
}

void events_in_range(const PressureOptions& o) {
    const double closes_deg = o.expect_intake_closes_deg.value_or(0);
    event_in_range(o.expect_intake_closes_deg, intake_closes,
                   {{closes_deg - 180, "after bottom dead centre"},
                    {-closes_deg, "before firing TDC"},
                    {closes_deg - 360, "after the TDC between exhaust and intake stroke"},
                    {closes_deg - 720, "after the firing TDC before"}});
    const double opens_deg = o.expect_exhaust_opens_deg.value_or(0);
    event_in_range(o.expect_exhaust_opens_deg, exhaust_opens,
                   {{180 - opens_deg, "before bottom dead centre"},
                    {360 + opens_deg, "after the TDC between exhaust and intake stroke"}});
}

PressureOptions pressure_options(const PressureRequest& r) {
    if (r.gauge && r.absolute) throw BadUsage("--gauge and --absolute exclude each other");
    PressureOptions o = r.options;
    const auto metres = [](std::optional<double> mm) { return mm ? std::optional(*mm * metres_per_mm) : mm; };
    o.channel = r.shared.trace.channel;
    o.from_s = r.shared.cranking.from_s;
    o.to_s = r.shared.cranking.to_s;
    o.bore_m = metres(r.bore_mm);
    o.stroke_m = metres(r.stroke_mm);
    o.rod_m = metres(r.rod_mm);
    if (r.gauge) o.zero = PressureZero::gauge;
    if (r.absolute) o.zero = PressureZero::absolute;
    in_range(o.altitude_m, -500, 6000, "--altitude", "give metres above sea level, -500 to 6000");
    in_range(o.bandwidth_hz, 1, 1e6, "--bandwidth", "give the transducer's -3 dB frequency in Hz, 1 or more");
    events_in_range(o);
    if (o.scale && *o.scale == 0)
        throw Error(ErrorCode::bad_option, "--scale", "0 would make every value 0",
                    "give kPa per recorded unit");
    return o;
}

int measure(const std::string& path, const PressureRequest& request) {
    const PressureOptions options = pressure_options(request);
    auto documents = documents_of(path, request);
    const Recording recording = read(path, request.shared.read);
    PressureReport report{measure_pressure(recording, options), {}};
    report.findings = judge_pressure(report.pressure, options);
    documents.write(recording, report,
                    [&] { return pressure_summary_text(recording, report, output_style()); });
    documents.commit();
    return report.findings.outcome == PressureVerdict::inconclusive ? exit_no_verdict : exit_analysed;
}

std::vector<Option> engine_flags(PressureRequest& r) {
    constexpr const char* group = "Engine";
    return {
        {"--bore", "MM", group, "Cylinder bore. Default: not known; then no leak and no exponents.",
         &r.bore_mm},
        {"--stroke", "MM", group, "Piston stroke. Default: not known.", &r.stroke_mm},
        {"--rod", "MM", group, "Connecting rod, centre to centre. Default: not known.", &r.rod_mm},
        {"--compression-ratio", "RATIO", group,
         "Volume at bottom dead centre over volume at top dead centre; above 13 a compression gauge is read "
         "as a diesel's. Default: fitted, and a gauge is read as a petrol engine's.",
         &r.options.compression_ratio},
        {"--expect-intake-closes", "DEG", group,
         "Where the intake should close, crank degrees after firing TDC, so negative: 55 after bottom dead "
         "centre is -125. Default: not known.",
         &r.options.expect_intake_closes_deg},
        {"--expect-exhaust-opens", "DEG", group,
         "Where the exhaust should open, crank degrees after firing TDC: 45 before bottom dead centre is "
         "135. Default: not known.",
         &r.options.expect_exhaust_opens_deg},
    };
}

std::vector<Option> recording_flags(PressureRequest& r) {
    constexpr const char* group = "Recording";
    Option channel = crank_flag(r.shared, "channel");
    channel.help =
        "Channel to analyse, by name or counted from 1. Default: the one in a unit of "
        "pressure that swings most, as a cylinder does.";
    return {
        channel,
        crank_flag(r.shared, "rate"),
        crank_flag(r.shared, "from"),
        crank_flag(r.shared, "to"),
        {"--scale", "FACTOR", group,
         "kPa per recorded unit; full scale in kPa for audio files. Default: from the recorded unit.",
         &r.options.scale},
        {"--offset", "KPA", group, "Added after scaling. Default: 0.", &r.options.offset_kpa},
        {"--gauge", "", group, "Readings are above ambient. Default: from the level between compressions.",
         &r.gauge},
        {"--absolute", "", group, "Readings are absolute. Default: from the level between compressions.",
         &r.absolute},
        {"--altitude", "M", group, "Height above sea level; sets ambient pressure. Default: 100 kPa.",
         &r.options.altitude_m},
        {"--bandwidth", "HZ", group,
         "-3 dB frequency of a slow transducer, whose lag is corrected. Default: none, a fast transducer.",
         &r.options.bandwidth_hz},
    };
}

}  // namespace

Command pressure_command() {
    auto path = std::make_shared<std::string>();
    auto request = std::make_shared<PressureRequest>();
    Command command{
        .name = "pressure",
        .summary = "One cylinder's compression, from a transducer in its plug hole",
        .arguments = {{"RECORDING", "The recording: text or audio; - is standard input", path.get()}},
        .options = engine_flags(*request),
        .footer =
            "Examples:\n"
            "  evenstroke pressure cyl2.csv --bore 86 --stroke 86 --rod 143.5 \\\n"
            "    --compression-ratio 10.5\n"
            "  evenstroke pressure volts.csv --channel P --scale 500 --offset -100\n"
            "  evenstroke pressure cyl2.flac --scale 5000 --json - --pulses pulses.csv\n"
            "\n"
            "Exit codes: 0 analysed; 1 could not read, analyse or write; 2 usage; 3 no\n"
            "verdict (the results are still written, with the reason).",
        .work = [=] { return measure(*path, *request); },
    };
    command.add(recording_flags(*request));
    command.add({
        {"--json", "FILE", output_group, "Everything as JSON (docs/pressure.schema.json).", &request->json},
        {"--pulses", "FILE", output_group, "CSV: one row per compression.", &request->pulses},
        {"--wave", "FILE", output_group, "CSV: time, absolute pressure, crank angle, volume.",
         &request->wave},
        {"--cycle", "FILE", output_group, "CSV: the mean cycle by degree: p, V, log p, log V.",
         &request->cycle},
    });
    return command;
}

}  // namespace evenstroke::cli
