// evenstroke followup: gauge readings beside recordings, and what they say together.
#include <fmt/core.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <numeric>

#include "case_saver.hpp"
#include "commands.hpp"
#include "crank_options.hpp"
#include "evenstroke/render_followup.hpp"
#include "evenstroke/worksheet.hpp"
#include "output.hpp"
#include "report.hpp"
#include "terminal.hpp"
#include "text_file.hpp"

namespace evenstroke::cli {

namespace {

struct FollowUpRequest {
    std::string worksheet;
    std::vector<std::string> recordings;
    std::string blank;  ///< --template
    std::string rows;
    bool rules = false;
    std::string json;
    std::string save;
    CrankRequest engine;
};

/// The cylinders' numbers: those of the firing order, else 1 to N.
std::vector<int> numbers(const EngineLayout& layout) {
    std::vector<int> all = layout.order;
    if (all.empty()) {
        all.resize(static_cast<std::size_t>(layout.cylinders()));
        std::iota(all.begin(), all.end(), 1);
    }
    std::sort(all.begin(), all.end());
    return all;
}

int write_template(const FollowUpRequest& request) {
    const auto options = analyse_options(request.engine);
    std::error_code unknown;  // what hinders here is said when the file is opened
    if (request.blank != "-" && std::filesystem::is_regular_file(request.blank, unknown))
        throw Error(ErrorCode::cannot_write, request.blank,
                    "a file of this name exists, and may be filled in",
                    "choose another name for the empty worksheet, or remove this file first");
    Output output(request.blank);
    const bool json = request.blank.ends_with(".json");
    output.write(
        worksheet_template(json ? WorksheetForm::json : WorksheetForm::csv, numbers(options.layout)));
    output.commit();
    return exit_analysed;
}

void check_cylinders(const Worksheet& sheet, const EngineLayout& layout, const std::string& path) {
    const auto all = numbers(layout);
    std::vector<int> named;
    for (const auto& c : sheet.cylinders) named.push_back(c.cylinder);
    for (const auto& row : sheet.engine.rows) named.insert(named.end(), row.begin(), row.end());
    for (const int cylinder : named)
        if (std::find(all.begin(), all.end(), cylinder) == all.end())
            throw Error(
                ErrorCode::bad_engine, path,
                fmt::format("the worksheet or --rows names cylinder {}, which the engine does not have",
                            cylinder),
                "check --cylinders or --order, --rows, or the worksheet's cylinders");
    std::size_t in_rows = 0;
    for (const auto& row : sheet.engine.rows) in_rows += row.size();
    if (in_rows > 0 && in_rows != all.size())
        throw Error(ErrorCode::bad_engine, path,
                    fmt::format("the worksheet or --rows places {} cylinders of {} in the block", in_rows,
                                all.size()),
                    "check --cylinders or --order, and --rows");
}

/// Without --cylinders, --order and --intervals an engine has the cylinders that the worksheet places in the
/// block. Those that it has readings of may be some only.
CrankRequest with_cylinders(CrankRequest request, const Worksheet& sheet) {
    if (request.cylinders || !request.order.empty() || !request.intervals_deg.empty()) return request;
    int count = 0;
    for (const auto& row : sheet.engine.rows) count += static_cast<int>(row.size());
    if (count > 0) request.cylinders = count;
    return request;
}

int follow(const FollowUpRequest& request) {
    if (request.rules) {
        write_stdout(rules_text());
        return exit_analysed;
    }
    if (!request.blank.empty()) return write_template(request);
    if (request.worksheet.empty()) throw BadUsage("no worksheet was given; --template writes an empty one");
    std::vector<Input> inputs = {{.path = request.worksheet, .kind = "worksheet"}};
    for (const auto& path : request.recordings) inputs.push_back({.path = path});
    if (std::count_if(inputs.begin(), inputs.end(), [](const Input& input) { return input.path == "-"; }) > 1)
        throw BadUsage("only one input can be standard input: give \"-\" once");
    std::vector<std::string> paths;
    for (const auto& path : {request.json, request.save})
        if (!path.empty()) paths.push_back(path);
    check_distinct(inputs, paths);
    Evidence evidence;
    evidence.sheet = parse_worksheet(read_text_file(request.worksheet), request.worksheet);
    if (!request.rows.empty()) evidence.sheet.engine.rows = parse_rows(request.rows);
    std::optional<AnalyseOptions> options;
    if (!request.recordings.empty())
        options = analyse_options(with_cylinders(request.engine, evidence.sheet));
    if (options) check_cylinders(evidence.sheet, options->layout, request.worksheet);
    std::optional<Output> json;
    if (!request.json.empty()) json.emplace(request.json);
    CaseSaver saver(request.save);
    std::vector<std::string> documents;
    for (const auto& path : request.recordings) {
        const Recording recording = read(path, request.engine.read);
        const Analysis a = analyse(recording, *options);
        evidence.recordings.push_back(recorded_engine(path, a.trace, a.cranking, a.angle, a.contribution,
                                                      a.layout, a.findings,
                                                      battery_levels(recording, a.cranking)));
        if (!request.save.empty()) documents.push_back(crank_json(recording, a));
    }
    const FollowUp result = follow_up(evidence);
    const std::string document = followup_json(request.worksheet, evidence, result);
    documents.push_back(document);
    if (json) json->write(document);
    if (request.json != "-") write_stdout(followup_text(evidence, result, output_style()));
    saver.add(documents);
    if (json) json->commit();
    saver.commit();
    return result.outcome == FollowUpOutcome::inconclusive ? exit_no_verdict : exit_analysed;
}

}  // namespace

Command followup_command() {
    auto request = std::make_shared<FollowUpRequest>();
    Command command{
        .name = "followup",
        .summary = "Gauge readings and recordings together: which causes are left, and the next test",
        .arguments = {{"WORKSHEET", "What was measured by hand: a table (CSV) or JSON; - is standard input",
                       &request->worksheet, false},
                      {"RECORDING", "Recordings of the same engine, none or several", &request->recordings,
                       false}},
        .options =
            {{"--template", "FILE", "",
              "Write an empty worksheet for --cylinders or --order, and stop. JSON when the name ends in "
              ".json.",
              &request->blank},
             {"--rules", "", "", "Print the rules as a table (Markdown), and stop.", &request->rules},
             {"--rows", "1-2-3/4-5-6", "",
              "Cylinders as they stand in the block, rows separated by /. Default: the worksheet's; "
              "otherwise not known.",
              &request->rows}},
        .footer =
            "Examples:\n"
            "  evenstroke followup --template sheet.csv --cylinders 4\n"
            "  evenstroke followup sheet.csv\n"
            "  evenstroke followup sheet.csv crank.csv --order 1-3-4-2 --sync Cyl1\n"
            "  evenstroke followup sheet.csv crank.csv --cylinders 6 --rows 1-3-5/2-4-6\n"
            "\n"
            "Exit codes: 0 judged; 1 could not read, analyse or write; 2 usage; 3 no verdict\n"
            "(the result is still written, with what to measure next).",
        .work = [=] { return follow(*request); },
    };
    command.add(crank_flags(request->engine));
    command.add({
        {"--json", "FILE", output_group, "Everything as JSON (docs/followup.schema.json).", &request->json},
        {"--save", "CASE", output_group, "Add the results to this case file; it is created if missing.",
         &request->save},
    });
    return command;
}

}  // namespace evenstroke::cli
