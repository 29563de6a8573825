// evenstroke synth: a recording of an invented engine, with its truth.
#include <fmt/format.h>

#include <charconv>
#include <memory>

#include "commands.hpp"
#include "evenstroke/synth.hpp"
#include "output.hpp"

namespace evenstroke::cli {

namespace {

/// What the user said; empty is "not said".
struct SynthRequest {
    std::string family;
    std::optional<int> cylinders;
    std::string order, intervals;
    std::vector<std::string> faults;
    std::optional<double> speed_rpm, compression_ratio, noise_a, rate_hz, sync_lead_deg, seconds;
    std::string starter, sync, wheel, wheel_as = "edges", ends_by, only, format;
    bool cam = false;
    std::uint64_t seed = 1;
    std::string truth, output = "-";
};

[[noreturn]] void refuse(const std::string& option, const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::bad_option, option, problem, remedy);
}

double number(const std::string& option, const std::string& text) {
    double value = 0;
    const char* end = text.data() + text.size();
    const auto parsed = std::from_chars(text.data(), end, value);
    if (parsed.ec != std::errc{} || parsed.ptr != end)
        refuse(option, fmt::format("\"{}\" is not a number", text), "write a number with a decimal point");
    return value;
}

/// A cylinder's number.
int whole_number(const std::string& option, const std::string& text) {
    int value = 0;
    const char* end = text.data() + text.size();
    const auto parsed = std::from_chars(text.data(), end, value);
    if (parsed.ec != std::errc{} || parsed.ptr != end)
        refuse(option, fmt::format("\"{}\" is not a whole number", text),
               "write cylinder numbers, as in 1-3-4-2");
    return value;
}

std::vector<std::string> split(const std::string& text, char separator) {
    std::vector<std::string> parts;
    std::size_t at = 0;
    while (true) {
        const std::size_t end = std::min(text.find(separator, at), text.size());
        parts.push_back(text.substr(at, end - at));
        if (end == text.size()) return parts;
        at = end + 1;
    }
}

std::vector<double> numbers(const std::string& option, const std::string& text, char separator) {
    std::vector<double> values;
    if (text.empty()) return values;
    for (const std::string& part : split(text, separator)) values.push_back(number(option, part));
    return values;
}

/// The position of a cylinder's name; without an order names are positions.
int position_of(const EngineLayout& layout, const std::string& text) {
    const int cylinder = whole_number("--fault", text);
    for (std::size_t i = 0; i < layout.order.size(); ++i)
        if (layout.order[i] == cylinder) return static_cast<int>(i);
    if (!layout.order.empty() || cylinder < 1 || cylinder > layout.cylinders())
        refuse("--fault", fmt::format("there is no cylinder {}", text),
               fmt::format("name one of the {} cylinders", layout.cylinders()));
    return cylinder - 1;
}

SynthFault parse_fault(const EngineLayout& layout, const std::string& text) {
    const std::vector<std::string> parts = split(text, ':');
    const char* remedy = "write CYLINDER:KIND or CYLINDER:KIND:AMOUNT, as in 3:rings:4 or 2/3:gasket";
    if (parts.size() < 2 || parts.size() > 3)
        refuse("--fault", fmt::format("\"{}\" is not a fault", text), remedy);
    SynthFault fault;
    const auto kind = find_fault_kind(parts[1]);
    if (!kind)
        refuse("--fault", fmt::format("no kind of fault is called \"{}\"", parts[1]),
               "choose rings, intake-valve, exhaust-valve, gasket, ratio or charge");
    fault.kind = *kind;
    const std::vector<std::string> names = split(parts[0], '/');
    if (names.size() > 2 || (names.size() == 2 && *kind != FaultKind::gasket))
        refuse("--fault", fmt::format("\"{}\" is not a cylinder", parts[0]), remedy);
    fault.position = position_of(layout, names[0]);
    if (names.size() == 2) fault.neighbour = position_of(layout, names[1]);
    fault.amount = parts.size() == 3 ? number("--fault", parts[2]) : usual_amount(*kind);
    return fault;
}

void set_layout(SynthOptions& options, const SynthRequest& request) {
    std::vector<int> order;
    if (!request.order.empty())
        for (const std::string& part : split(request.order, '-'))
            order.push_back(whole_number("--order", part));
    const auto intervals = numbers("--intervals", request.intervals, ',');
    const bool said = request.cylinders || !order.empty() || !intervals.empty();
    if (!said && !request.family.empty()) return;
    constexpr int usual_cylinders = 4;
    const auto count = said ? request.cylinders : std::optional<int>(usual_cylinders);
    options.engine.layout = make_layout(count, order, intervals, std::nullopt);
    options.engine.faults.clear();
}

void set_chain(SynthChain& chain, const SynthRequest& request) {
    if (request.noise_a) chain.noise_a = *request.noise_a;
    if (request.rate_hz) chain.rate_hz = *request.rate_hz;
    if (request.sync_lead_deg) chain.sync_lead_deg = *request.sync_lead_deg;
    if (request.sync == "cycle") chain.sync = SyncKind::once_per_cycle;
    if (request.sync == "turn") chain.sync = SyncKind::once_per_turn;
    if (request.sync == "none") chain.sync = SyncKind::none;
    if (request.only == "current") chain.battery = false;
    if (request.only == "battery") chain.current = false;
    chain.cam = request.cam;
    if (request.wheel.empty()) return;
    chain.pattern = parse_wheel(request.wheel);
    chain.wheel = request.wheel_as == "analog" ? WheelKind::analog : WheelKind::edges;
}

SynthOptions options_of(const SynthRequest& request) {
    SynthOptions options;
    if (!request.family.empty()) options = draw_engine(request.seed, request.family);
    set_layout(options, request);
    for (const std::string& text : request.faults)
        options.engine.faults.push_back(parse_fault(options.engine.layout, text));
    if (request.speed_rpm) options.engine.speed_rpm = *request.speed_rpm;
    if (request.compression_ratio) options.engine.geometry.compression_ratio = *request.compression_ratio;
    if (request.starter == "series") options.starter.kind = StarterKind::series;
    if (request.starter == "permanent-magnet") options.starter.kind = StarterKind::permanent_magnet;
    // Six and more cylinders get a starter and battery in proportion to the four that the defaults suit.
    const double size = options.engine.layout.cylinders() / 4.0;
    if (request.family.empty() && size > 1) {
        options.starter.resistance_mohm /= size;
        options.starter.inductance_uh /= size;
        options.battery.resistance_mohm /= size;
        options.battery.sag_mohm /= size;
        options.battery.cable_mohm /= size;
        options.engine.inertia_kg_m2 *= size;
        options.starter.rotor_inertia_kg_m2 *= size;
        options.starter.clutch_nm_per_rad *= size;
    }
    set_chain(options.chain, request);
    SynthRun& run = options.run;
    if (request.ends_by == "start") run.ends_by = CrankingEnd::engine_start;
    if (request.ends_by == "release") run.ends_by = CrankingEnd::release;
    if (request.ends_by == "recording") run.ends_by = CrankingEnd::recording_end;
    if (request.seconds || !request.ends_by.empty()) {
        run.duration_s = request.seconds.value_or(run.duration_s);
        constexpr double after_release_s = 0.5, after_start_s = 1.2;
        run.stop_s =
            run.duration_s - (run.ends_by == CrankingEnd::engine_start ? after_start_s : after_release_s);
    }
    return options;
}

/// From the option, or else from the name of the file.
std::string format_of(const SynthRequest& request) {
    if (!request.format.empty()) return request.format;
    const auto ends_in = [&](const char* tail) { return request.output.ends_with(tail); };
    return ends_in(".flac") ? "flac" : ends_in(".wav") ? "wav" : ends_in(".tsv") ? "tab" : "csv";
}

TextDialect dialect_of(const std::string& format) {
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
    dialect.digits = 4;
    return dialect;
}

std::vector<double> full_scales(const SynthOptions& options, const Recording& recording) {
    std::vector<double> scales;
    constexpr double volts = 20, kilopascals = 10'000;
    for (const Channel& channel : recording.channels)
        scales.push_back(channel.unit == "A"    ? options.chain.limit_a
                         : channel.unit == "mV" ? options.chain.limit_a * options.chain.mv_per_a.value_or(1)
                         : channel.unit == "V"  ? volts
                                                : kilopascals);
    return scales;
}

void run(const SynthRequest& request) {
    const SynthOptions options = options_of(request);
    const std::string format = format_of(request);
    const bool audio = format == "flac" || format == "wav";
    if (audio && request.output == "-")
        refuse("--output", "audio cannot be written to standard output",
               "name a file, as in --output a.flac");
    std::vector<std::string> paths = {request.output};
    if (!request.truth.empty()) paths.push_back(request.truth);
    check_distinct({}, paths);
    // Every file is opened before the work, so that a path that cannot be written is found first.
    std::vector<Output> texts;
    if (audio) (void)Output(request.output);
    if (!audio) texts.emplace_back(request.output);
    if (!request.truth.empty()) texts.emplace_back(request.truth);
    const SynthResult result = synthesise(options, request.seed);
    if (!audio) texts.front().write(recording_text(result.recording, dialect_of(format)));
    if (!request.truth.empty()) texts.back().write(truth_json(options, request.seed, result.truth));
    if (audio)
        write_audio(result.recording, full_scales(options, result.recording),
                    format == "flac" ? AudioFormat::flac : AudioFormat::wav, request.output);
    for (Output& text : texts) text.commit();
}

void add_engine_options(CLI::App* command, const std::shared_ptr<SynthRequest>& r) {
    command
        ->add_option("--family", r->family,
                     "Draw a random engine and fault of this family from the seed: " +
                         fmt::format("{}.", fmt::join(synth_families(), ", ")))
        ->type_name("NAME");
    command->add_option("--cylinders", r->cylinders, "How many cylinders (default 4).")->type_name("N");
    command->add_option("--order", r->order, "Firing order, as in 1-3-4-2.")->type_name("ORDER");
    command->add_option("--intervals", r->intervals, "Degrees from each firing to the next; they sum to 720.")
        ->type_name("DEG,...");
    command
        ->add_option("--fault", r->faults,
                     "Cylinder, kind and amount, repeatable: 3:rings:4. Kinds with mm2 of leak: rings, "
                     "intake-valve, exhaust-valve, gasket (2/3:gasket between two); with % lost: ratio, "
                     "charge. A usual amount when none is given.")
        ->type_name("CYL:KIND[:AMOUNT]");
    command->add_option("--speed", r->speed_rpm, "Cranking speed to aim at (default 200).")->type_name("RPM");
    command->add_option("--compression-ratio", r->compression_ratio, "Compression ratio (default 10.5).")
        ->type_name("RATIO");
    command->add_option("--starter", r->starter, "Kind of starter (default permanent-magnet).")
        ->check(CLI::IsMember({"permanent-magnet", "series"}))
        ->type_name("KIND");
    command->add_option("--ends-by", r->ends_by, "What ends the cranking (default release).")
        ->check(CLI::IsMember({"release", "start", "recording"}))
        ->type_name("EVENT");
}

void add_recording_options(CLI::App* command, const std::shared_ptr<SynthRequest>& r) {
    command->add_option("--seconds", r->seconds, "Length of the recording (default 6).")->type_name("S");
    command->add_option("--rate", r->rate_hz, "Samples a second (default 10000).")->type_name("HZ");
    command->add_option("--noise", r->noise_a, "Noise of the clamp, standard deviation (default 1.5).")
        ->type_name("A");
    command->add_option("--only", r->only, "Record only the current, or only the battery voltage.")
        ->check(CLI::IsMember({"current", "battery"}))
        ->type_name("CHANNEL");
    command->add_option("--sync", r->sync, "Sync mark of the first cylinder: cycle (default), turn or none.")
        ->check(CLI::IsMember({"cycle", "turn", "none"}))
        ->type_name("EVERY");
    command->add_option("--sync-lead", r->sync_lead_deg, "Degrees from the mark to that cylinder's TDC.")
        ->type_name("DEG");
    command
        ->add_option("--wheel", r->wheel, "Toothed crank wheel, as in 60-2, or degrees from tooth to tooth.")
        ->type_name("TEETH-MISSING");
    command->add_option("--wheel-as", r->wheel_as, "edges (default: a list and nothing else) or analog.")
        ->check(CLI::IsMember({"edges", "analog"}))
        ->type_name("FORM");
    command->add_flag("--cam", r->cam, "Record a cam mark too.");
    command
        ->add_option("--format", r->format,
                     "csv, semicolon (with decimal comma), tab (with ms), wav or flac; else by the name. "
                     "Audio full scale: 1000 A unless drawn, 20 V.")
        ->check(CLI::IsMember({"csv", "semicolon", "tab", "wav", "flac"}))
        ->type_name("FORMAT");
    command->add_option("--seed", r->seed, "Equal seeds give equal recordings (default 1).")
        ->type_name("N")
        ->check(CLI::NonNegativeNumber);
    command->add_option("--truth", r->truth, "Write what is true of the engine, as JSON.")->type_name("FILE");
    command->add_option("--output", r->output, "Where the recording goes (default -, standard output).")
        ->type_name("FILE");
}

}  // namespace

CLI::App* add_synth_command(CLI::App& app) {
    auto* command = app.add_subcommand("synth", "Write a recording of an invented engine, and its truth");
    auto request = std::make_shared<SynthRequest>();
    add_engine_options(command, request);
    add_recording_options(command, request);
    command->footer(
        "Examples:\n"
        "  evenstroke synth --order 1-3-4-2 --fault 3:rings:4 --output four.csv\n"
        "  evenstroke synth --family six-odd --seed 12 --output six.flac --truth six.json\n"
        "  evenstroke synth --cylinders 4 --wheel 60-2 --cam --output wheel.csv");
    command->callback([request] { run(*request); });
    return command;
}

}  // namespace evenstroke::cli
