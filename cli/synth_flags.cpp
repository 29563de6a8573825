// The options of `synth` on the command line, with their help.
#include <fmt/format.h>

#include "option_values.hpp"
#include "synth_request.hpp"

namespace evenstroke::cli {

namespace {

/// Adds options that stand under one heading of the help.
struct Group {
    CLI::App& command;
    const char* heading;

    template <class T>
    CLI::Option* operator()(const char* flag, T& target, const char* value, const std::string& help) const {
        return command.add_option(flag, target, help)->type_name(value)->group(heading);
    }
    CLI::Option* flag(const char* name, bool& target, const char* help) const {
        return command.add_flag(name, target, help)->group(heading);
    }
};

void add_engine(CLI::App& command, SynthRequest& r) {
    const Group add{command, "Engine"};
    add("--family", r.family, "NAME",
        "Draw a random engine and fault of this family from the seed: " +
            fmt::format("{}.", fmt::join(synth_families(), ", ")));
    add("--cylinders", r.cylinders, "N", "How many cylinders (default 4).");
    add("--order", r.order, "ORDER", "Firing order, as in 1-3-4-2.");
    add("--intervals", r.intervals, "DEG,...", "Degrees from each firing to the next; they sum to 720.");
    add("--fault", r.faults, "CYL:KIND[:AMOUNT]",
        "Cylinder, kind and amount, repeatable: 3:rings:4. Kinds with mm2 of leak: rings, "
        "intake-valve, exhaust-valve, gasket (2/3:gasket between two); with % lost: ratio, "
        "charge. A usual amount when none is given.");
    add("--intake-closes", r.intake_closes, "[CYL:]DEG",
        "Where the intake closes, crank degrees after firing TDC (default -115); 3:-90 is cylinder 3 alone, "
        "repeatable.");
    add("--exhaust-opens", r.exhaust_opens, "[CYL:]DEG",
        "Where the exhaust opens, crank degrees after firing TDC (default 130); 3:150 is cylinder 3 alone, "
        "repeatable.");
    add("--cam-late", r.cam_late_deg, "DEG",
        "Every valve event this many crank degrees late, as after a belt that jumped; negative is early "
        "(default 0).");
    add("--speed", r.speed_rpm, "RPM", "Cranking speed to aim at (default 200).");
    add("--compression-ratio", r.compression_ratio, "RATIO", "Compression ratio (default 10.5).");
    add("--altitude", r.altitude_m, "M", "Height above sea level; sets the air outside (default 99 kPa).");
    add("--starter", r.starter, "KIND", "Kind of starter (default permanent-magnet).")
        ->check(CLI::IsMember({"permanent-magnet", "series"}));
    add("--ends-by", r.ends_by, "EVENT", "What ends the cranking (default release).")
        ->check(CLI::IsMember({"release", "start", "recording"}));
}

void add_recording(CLI::App& command, SynthRequest& r) {
    const Group add{command, "Recording"};
    add("--seconds", r.seconds, "S", "Length of the recording (default 6).");
    add("--rate", r.rate_hz, "HZ", "Samples a second (default 10000).");
    add("--noise", r.noise_a, "A", "Noise of the clamp, standard deviation (default 1.5).");
    add("--only", r.only, "CHANNEL",
        "Of current, battery voltage and cylinder pressure record this alone; --pressure is recorded beside "
        "the "
        "first two.")
        ->check(CLI::IsMember({"current", "battery", "pressure"}));
    add("--sync", r.sync, "EVERY", "Sync mark of the first cylinder: cycle (default), turn or none.")
        ->check(CLI::IsMember({"cycle", "turn", "none"}));
    add("--sync-lead", r.sync_lead_deg, "DEG", "Degrees from the mark to that cylinder's TDC.");
    CLI::Option* wheel = add("--wheel", r.wheel, "TEETH-MISSING",
                             "Toothed crank wheel, as in 60-2, or degrees from tooth to tooth.");
    add("--wheel-as", r.wheel_as, "FORM", "edges (default: a list and nothing else) or analog.")
        ->check(CLI::IsMember({"edges", "analog"}))
        ->needs(wheel);
    add.flag("--cam", r.cam, "Record a cam mark too.");
}

/// Everything about the transducer asks for --pressure, so that nothing said is left unheard.
void add_pressure(CLI::App& command, SynthRequest& r) {
    const Group group{command, "Cylinder pressure"};
    CLI::Option* cylinder =
        group("--pressure", r.pressure, "CYL",
              "Record the pressure in this cylinder too (its number in --order, else its position).");
    const auto add = [&](const char* flag, auto& target, const char* value, const char* help) {
        return group(flag, target, value, help)->needs(cylinder);
    };
    const auto add_flag = [&](const char* flag, bool& target, const char* help) {
        group.flag(flag, target, help)->needs(cylinder);
    };
    add("--pressure-unit", r.transducer.unit, "UNIT", "Unit of the channel; V is a voltage (default kPa).")
        ->check(CLI::IsMember({"kPa", "MPa", "bar", "psi", "V"}));
    add("--pressure-scale", r.pressure_kpa_per_v, "KPA",
        "With V: kPa that one volt stands for (default 500).");
    add("--pressure-zero", r.pressure_zero_v, "V", "With V: volts at a reading of 0 kPa (default 0).");
    add_flag("--pressure-gauge", r.transducer.gauge,
             "The transducer reads above the outside, not absolute (default absolute).");
    add("--pressure-offset", r.pressure_offset_kpa, "KPA", "Sensor offset: reading less true (default 0).");
    add("--pressure-noise", r.pressure_noise_kpa, "KPA", "Noise, standard deviation (default 2).");
    add("--pressure-drift", r.transducer.drift_kpa_per_s, "KPA/S", "Drift of the sensor offset (default 0).");
    add("--pressure-bandwidth", r.transducer.bandwidth_hz, "HZ",
        "-3 dB frequency of a slow transducer, first order, whose peaks come late and low (default fast).");
    add("--pressure-limit", r.transducer.limit_kpa, "KPA",
        "Readings clip here, both signs (default nowhere).");
    add_flag("--pressure-reversed", r.transducer.reversed, "The leads are the wrong way round.");
    add_flag("--check-valve", r.transducer.check_valve,
             "A compression gauge instead: a check valve holds its peak, and it reads above the outside.");
}

void add_output(CLI::App& command, SynthRequest& r) {
    const Group add{command, "Output"};
    add("--format", r.format, "FORMAT",
        "csv, semicolon (with decimal comma), tab (with ms), wav or flac; else by the name. "
        "Audio full scale: 1000 A unless drawn, 20 V, 10000 kPa.")
        ->check(CLI::IsMember({"csv", "semicolon", "tab", "wav", "flac"}));
    add("--seed", r.seed, "N", "Equal seeds give equal recordings (default 1).")
        ->check([](const std::string& text) { return whole_number_problem(text, 0, {}); }, "");
    add("--truth", r.truth, "FILE", "Write what is true of the engine, as JSON.");
    add("--output", r.output, "FILE", "Where the recording goes (default -, standard output).");
}

}  // namespace

void add_synth_flags(CLI::App& command, SynthRequest& request) {
    add_engine(command, request);
    add_recording(command, request);
    add_pressure(command, request);
    add_output(command, request);
}

}  // namespace evenstroke::cli
