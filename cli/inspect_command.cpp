// evenstroke inspect: what a recording holds.
#include <memory>

#include "commands.hpp"
#include "crank_flags.hpp"
#include "evenstroke/read.hpp"
#include "evenstroke/render.hpp"
#include "evenstroke/trace.hpp"
#include "output.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

void inspect(const std::string& path, const ReadOptions& options, const std::string& json) {
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
}

}  // namespace

CLI::App* add_inspect_command(CLI::App& app) {
    auto* command =
        app.add_subcommand("inspect", "What a recording holds: channels, units, rate, length, faults");
    auto path = std::make_shared<std::string>();
    auto json = std::make_shared<std::string>();
    auto request = std::make_shared<CrankRequest>();
    command->add_option("RECORDING", *path, "The recording: text or audio; - is standard input")->required();
    add_crank_flag(*command, *request, "rate");
    command->add_option("--json", *json, "The same as JSON; - is standard output.")->type_name("FILE");
    command->footer(
        "Examples:\n"
        "  evenstroke inspect capture.csv\n"
        "  evenstroke inspect capture.flac --json -\n"
        "  evenstroke inspect - --rate 10000 < samples.txt\n"
        "\n"
        "Exit codes: 0 read; 1 could not read or write; 2 usage.");
    command->callback([=] { inspect(*path, request->read, *json); });
    return command;
}

}  // namespace evenstroke::cli
