// evenstroke compare: two recordings of one engine, and what changed.
#include <memory>

#include "case_saver.hpp"
#include "commands.hpp"
#include "crank_options.hpp"
#include "evenstroke/render_followup.hpp"
#include "output.hpp"
#include "report.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

struct CompareRequest {
    std::string first;
    std::string second;
    std::string between;
    std::string json;
    std::string save;
    CrankRequest engine;
};

Between between_of(const std::string& word) {
    for (const Between b : {Between::oil, Between::warming, Between::repair, Between::time})
        if (word == name(b)) return b;
    return Between::not_said;
}

struct Side {
    ComparedRecording recording;
    std::string document;  ///< of crank
};

Side analysed(const std::string& path, const CompareRequest& request, const AnalyseOptions& options) {
    const Recording recording = read(path, request.engine.read);
    const Analysis a = analyse(recording, options);
    auto engine = recorded_engine(path, a.trace, a.cranking, a.angle, a.contribution, a.layout, a.findings,
                                  battery_levels(recording, a.cranking));
    return {compared_recording(std::move(engine), a.angle, a.layout, a.contribution),
            crank_json(recording, a)};
}

int run_compare(const CompareRequest& request) {
    const AnalyseOptions options = analyse_options(request.engine);
    if (request.first == "-" && request.second == "-")
        throw BadUsage("only one recording can be standard input: give \"-\" once");
    std::vector<std::string> paths;
    for (const auto& path : {request.json, request.save})
        if (!path.empty()) paths.push_back(path);
    check_distinct({{.path = request.first}, {.path = request.second}}, paths);
    std::optional<Output> json;
    if (!request.json.empty()) json.emplace(request.json);
    CaseSaver saver(request.save);

    const Side first = analysed(request.first, request, options);
    const Side second = analysed(request.second, request, options);
    const Comparison result = compare(first.recording, second.recording, between_of(request.between));
    const auto& a = first.recording.engine;
    const auto& b = second.recording.engine;
    const std::string document = compare_json(a, b, result);
    if (json) json->write(document);
    if (request.json != "-") write_stdout(compare_text(a, b, result, output_style()));
    saver.add(std::vector{first.document, second.document, document});
    if (json) json->commit();
    saver.commit();
    return result.outcome == CompareOutcome::inconclusive ? exit_no_verdict : exit_analysed;
}

}  // namespace

Command compare_command() {
    auto request = std::make_shared<CompareRequest>();
    Command command{
        .name = "compare",
        .summary = "Two recordings of one engine: what changed, and whether by more than chance",
        .arguments = {{"FIRST", "The earlier recording; - is standard input", &request->first},
                      {"SECOND", "The later recording", &request->second}},
        .options = {{"--between", "WORD", "",
                     "What was done between them: oil (put into a cylinder), warming, repair, or time "
                     "(passed). Default: not given.",
                     Choice{&request->between, {"oil", "warming", "repair", "time"}}}},
        .footer =
            "Examples:\n"
            "  evenstroke compare dry.csv wet.csv --order 1-3-4-2 --sync Cyl1 --between oil\n"
            "  evenstroke compare march.csv april.csv --cylinders 4 --sync Cyl1 --save c.json\n"
            "\n"
            "Exit codes: 0 compared; 1 could not read, analyse or write; 2 usage; 3 no\n"
            "verdict (the result is still written, with the reason).",
        .work = [=] { return run_compare(*request); },
    };
    command.add(crank_flags(request->engine));
    command.add({
        {"--json", "FILE", output_group, "Everything as JSON (docs/compare.schema.json).", &request->json},
        {"--save", "CASE", output_group, "Add the results to this case file; it is created if missing.",
         &request->save},
    });
    return command;
}

}  // namespace evenstroke::cli
