// evenstroke inspect: what a recording holds.
#include <memory>

#include "commands.hpp"
#include "crank_options.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/render.hpp"
#include "evenstroke/trace.hpp"
#include "output.hpp"
#include "report.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

int inspect(const std::string& path, const ReadOptions& options, const std::string& json) {
    std::vector<Output> outputs;
    if (!json.empty()) {
        check_distinct({{.path = path}}, {json});
        outputs.emplace_back(json);
    }
    const Recording recording = read(path, options);
    const auto looks = look(recording);
    for (auto& output : outputs) output.write(inspection_json(recording, looks));
    if (json != "-") write_stdout(inspection_text(recording, looks, output_style()));
    for (auto& output : outputs) output.commit();
    return exit_analysed;
}

}  // namespace

Command inspect_command() {
    auto path = std::make_shared<std::string>();
    auto json = std::make_shared<std::string>();
    auto request = std::make_shared<CrankRequest>();
    Option rate = crank_flag(*request, "rate");
    rate.group.clear();
    return {
        .name = "inspect",
        .summary = "What a recording holds: channels, units, rate, length, faults",
        .arguments = {{"RECORDING", "The recording: text or audio; - is standard input", path.get()}},
        .options = {rate, {"--json", "FILE", "", "The same as JSON; - is standard output.", json.get()}},
        .footer =
            "Examples:\n"
            "  evenstroke inspect capture.csv\n"
            "  evenstroke inspect capture.flac --json -\n"
            "  evenstroke inspect - --rate 10000 < samples.txt\n"
            "\n"
            "Exit codes: 0 read; 1 could not read or write; 2 usage.",
        .work = [=] { return inspect(*path, request->read, *json); },
    };
}

}  // namespace evenstroke::cli
