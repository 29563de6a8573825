// evenstroke synth: a recording of an invented engine, with its truth.
#include <algorithm>
#include <cctype>
#include <filesystem>
#include <memory>
#include <utility>

#include "commands.hpp"
#include "evenstroke/units.hpp"
#include "output.hpp"
#include "report.hpp"
#include "synth_request.hpp"

namespace evenstroke::cli {

namespace {

/// What a name's ending means; a name without one, as of a device, is CSV.
constexpr std::pair<const char*, const char*> formats[] = {
    {"", "csv"}, {".csv", "csv"}, {".txt", "csv"}, {".tsv", "tab"}, {".wav", "wav"}, {".flac", "flac"}};

/// From the option, or else from the name of the file. Throws Error{bad_option} for the name of another
/// format.
std::string format_of(const SynthRequest& request) {
    if (!request.format.empty()) return request.format;
    std::string ending = std::filesystem::path(request.output).extension().string();
    std::transform(ending.begin(), ending.end(), ending.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    for (const auto& [known, format] : formats)
        if (ending == known) return format;
    throw Error(ErrorCode::bad_option, "--output " + request.output,
                "the name does not say which format to write",
                "name a .csv, .txt, .tsv, .wav or .flac file, or give the format with --format");
}

TextDialect dialect_of(const std::string& format, bool pressure) {
    TextDialect dialect;
    if (format == "semicolon") {
        dialect.separator = ';';
        dialect.decimal_comma = true;
        dialect.units_row = true;
    }
    if (format == "tab") {
        dialect.separator = '\t';
        dialect.milliseconds = true;
    }
    // A pressure's top is broad: half a kilopascal moves it by degrees.
    dialect.digits = pressure ? 5 : 4;
    return dialect;
}

std::vector<double> full_scales(const SynthOptions& options, const Recording& recording) {
    std::vector<double> scales;
    constexpr double level_volts = 20, kilopascals = 10'000;
    for (const Channel& channel : recording.channels) {
        const auto unit = find_unit(channel.unit);
        scales.push_back(channel.unit == "A"    ? options.chain.limit_a
                         : channel.unit == "mV" ? options.chain.limit_a * options.chain.mv_per_a.value_or(1)
                         : unit && unit->dimension == Dimension::pressure ? kilopascals / unit->factor
                         : channel.name == "Battery"                      ? options.chain.battery_range_v
                                                                          : level_volts);
    }
    return scales;
}

int synth(const SynthRequest& request) {
    const SynthOptions options = synth_options(request);
    const std::string format = format_of(request);
    const bool audio = format == "flac" || format == "wav";
    if (audio && request.output == "-")
        throw Error(ErrorCode::bad_option, "--output", "audio cannot be written to standard output",
                    "name a file, as in --output a.flac");
    std::vector<std::string> paths = {request.output};
    if (!request.truth.empty()) paths.push_back(request.truth);
    check_distinct({}, paths);
    // Every file is opened before the work, so that a path that cannot be written is found first.
    std::vector<Output> outputs;
    for (const std::string& path : paths) outputs.emplace_back(path);
    const SynthResult result = synthesise(options, request.seed);
    outputs.front().write(
        audio ? recording_audio(result.recording, full_scales(options, result.recording),
                                format == "flac" ? AudioFormat::flac : AudioFormat::wav, request.output)
              : recording_text(result.recording,
                               dialect_of(format, options.chain.pressure_position.has_value())));
    if (!request.truth.empty()) outputs.back().write(truth_json(options, request.seed, result.truth));
    for (Output& output : outputs) output.commit();
    return exit_analysed;
}

}  // namespace

Command synth_command() {
    auto request = std::make_shared<SynthRequest>();
    return {
        .name = "synth",
        .summary = "Write a recording of an invented engine, and its truth",
        .options = synth_flags(*request),
        .footer =
            "Examples:\n"
            "  evenstroke synth --order 1-3-4-2 --fault 3:rings:4 --output four.csv\n"
            "  evenstroke synth --family six-odd --seed 12 --output six.flac --truth six.json\n"
            "  evenstroke synth --cylinders 4 --wheel 60-2 --cam --output wheel.csv\n"
            "  evenstroke synth --order 1-3-4-2 --pressure 3 --pressure-unit bar \\\n"
            "    --only pressure --sync none --output cylinder3.csv --truth cylinder3.json\n"
            "\n"
            "Exit codes: 0 written; 1 could not be made or written; 2 usage.",
        .work = [request] { return synth(*request); },
    };
}

}  // namespace evenstroke::cli
