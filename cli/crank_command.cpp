// evenstroke crank: relative compression from one recording.
#include <memory>
#include <string>
#include <vector>

#include "case_saver.hpp"
#include "commands.hpp"
#include "crank_options.hpp"
#include "documents.hpp"
#include "evenstroke/render.hpp"
#include "report.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

/// Paths; empty: not asked for.
struct CrankPaths {
    std::string json;
    std::string events;
    std::string cycles;
    std::string wave;
    std::string html;
    std::string save;  ///< a case, added to
};

Documents<Analysis> documents_of(const std::string& recording, const CrankPaths& p) {
    return Documents<Analysis>(
        recording,
        {
            {p.json, crank_json},
            {p.events, [](const Recording&, const Analysis& a) { return events_csv(a); }},
            {p.cycles, [](const Recording&, const Analysis& a) { return cycles_csv(a); }},
            {p.wave, [](const Recording&, const Analysis& a) { return wave_csv(a); }},
            {p.html, crank_html},
        },
        p.save.empty() ? std::vector<std::string>{} : std::vector{p.save});
}

int crank(const std::string& path, const CrankRequest& request, const CrankPaths& paths) {
    const AnalyseOptions options = analyse_options(request);
    auto documents = documents_of(path, paths);
    CaseSaver saver(paths.save);
    const Recording recording = read(path, request.read);
    const Analysis analysis = analyse(recording, options);
    documents.write(recording, analysis, [&] { return summary_text(recording, analysis, output_style()); });
    if (!paths.save.empty()) saver.add(std::vector{crank_json(recording, analysis)});
    documents.commit();
    saver.commit();
    return analysis.findings.outcome == Outcome::inconclusive ? exit_no_verdict : exit_analysed;
}

}  // namespace

Command crank_command() {
    auto path = std::make_shared<std::string>();
    auto request = std::make_shared<CrankRequest>();
    auto paths = std::make_shared<CrankPaths>();
    Command command{
        .name = "crank",
        .summary = "Relative compression of each cylinder, from one recording",
        .arguments = {{"RECORDING", "The recording: text or audio; - is standard input", path.get()}},
        .options = crank_flags(*request),
        .footer =
            "Examples:\n"
            "  evenstroke crank capture.csv --order 1-3-4-2 --sync Cyl1\n"
            "  evenstroke crank capture.csv --cylinders 4 --channel Clamp --scale 100\n"
            "  evenstroke crank v6.wav --intervals 150,90,150,90,150,90 --scale 500\n"
            "  evenstroke crank wheel.csv --cylinders 4 --quantity wheel --wheel 60-2\n"
            "  evenstroke crank capture.csv --cylinders 8 --json - --events events.csv\n"
            "  evenstroke crank capture.csv --order 1-3-4-2 --sync Cyl1 --html report.html\n"
            "\n"
            "Exit codes: 0 analysed; 1 could not read, analyse or write; 2 usage; 3 no\n"
            "verdict (the results are still written, with the reason).",
        .work = [=] { return crank(*path, *request, *paths); },
    };
    command.add({
        {"--json", "FILE", output_group, "Everything as JSON (docs/crank.schema.json).", &paths->json},
        {"--events", "FILE", output_group, "CSV: one row per compression event.", &paths->events},
        {"--cycles", "FILE", output_group, "CSV: contribution in percent, cycle by cylinder.",
         &paths->cycles},
        {"--wave", "FILE", output_group, "CSV: time, value, crank angle, and the cylinder on compression.",
         &paths->wave},
        {"--html", "FILE", output_group, "One page with pictures, to read on any screen or to print.",
         &paths->html},
        {"--save", "CASE", output_group, "Add the result to this case file; it is created if missing.",
         &paths->save},
    });
    return command;
}

}  // namespace evenstroke::cli
