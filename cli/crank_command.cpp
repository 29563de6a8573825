// evenstroke crank: relative compression from one recording.
#include <memory>
#include <utility>

#include "case_saver.hpp"
#include "commands.hpp"
#include "crank_options.hpp"
#include "evenstroke/render.hpp"
#include "output.hpp"
#include "report.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

struct Documents {
    std::string json;
    std::string events;
    std::string cycles;
    std::string wave;
    std::string html;
    std::string save;  ///< a case, added to
};

using Writer = std::string (*)(const Recording&, const Analysis&);

struct Planned {
    Output output;
    Writer write;
};

/// Opens every output that was asked for, before any work.
std::vector<Planned> plan(const std::string& recording, const Documents& d) {
    const std::pair<const std::string&, Writer> all[] = {
        {d.json, crank_json},
        {d.events, [](const Recording&, const Analysis& a) { return events_csv(a); }},
        {d.cycles, [](const Recording&, const Analysis& a) { return cycles_csv(a); }},
        {d.wave, [](const Recording&, const Analysis& a) { return wave_csv(a); }},
        {d.html, crank_html},
    };
    std::vector<std::string> paths;
    for (const auto& [path, write] : all)
        if (!path.empty()) paths.push_back(path);
    if (!d.save.empty()) paths.push_back(d.save);
    check_distinct({{.path = recording}}, paths);
    std::vector<Planned> planned;
    for (const auto& [path, write] : all)
        if (!path.empty()) planned.push_back({Output(path), write});
    return planned;
}

int crank(const std::string& path, const CrankRequest& request, const Documents& documents) {
    const AnalyseOptions options = analyse_options(request);
    auto outputs = plan(path, documents);
    CaseSaver saver(documents.save);
    const Recording recording = read(path, request.read);
    const Analysis analysis = analyse(recording, options);
    bool stdout_taken = false;
    for (auto& [output, write] : outputs) {
        stdout_taken = stdout_taken || output.is_stdout();
        output.write(write(recording, analysis));
    }
    if (!stdout_taken) write_stdout(summary_text(recording, analysis, output_style()));
    if (!documents.save.empty()) saver.add(std::vector{crank_json(recording, analysis)});
    for (auto& planned : outputs) planned.output.commit();
    saver.commit();
    return analysis.findings.outcome == Outcome::inconclusive ? exit_no_verdict : exit_analysed;
}

}  // namespace

Command crank_command() {
    auto path = std::make_shared<std::string>();
    auto request = std::make_shared<CrankRequest>();
    auto documents = std::make_shared<Documents>();
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
            "verdict (the results are written all the same, with the reason).",
        .work = [=] { return crank(*path, *request, *documents); },
    };
    command.add({
        {"--json", "FILE", output_group, "Everything as JSON (docs/crank.schema.json).", &documents->json},
        {"--events", "FILE", output_group, "CSV: one row a compression event.", &documents->events},
        {"--cycles", "FILE", output_group, "CSV: contribution in percent, cycle by cylinder.",
         &documents->cycles},
        {"--wave", "FILE", output_group, "CSV: time, value, crank angle, and the cylinder on compression.",
         &documents->wave},
        {"--html", "FILE", output_group, "One page with pictures, to read on any screen or to print.",
         &documents->html},
        {"--save", "CASE", output_group, "Add the result to this case file; it is made when missing.",
         &documents->save},
    });
    return command;
}

}  // namespace evenstroke::cli
