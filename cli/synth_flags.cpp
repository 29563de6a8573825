// The options of `synth` on the command line, with their help.
#include <fmt/format.h>

#include "synth_request.hpp"

namespace evenstroke::cli {

namespace {

std::vector<Option> engine_flags(SynthRequest& r) {
    constexpr const char* group = "Engine";
    return {
        {"--family", "NAME", group,
         "Draw a random engine and fault of this family from the seed: " +
             fmt::format("{}.", fmt::join(synth_families(), ", ")),
         &r.family},
        {"--cylinders", "N", group, "How many cylinders (default 4).", &r.cylinders},
        {"--order", "ORDER", group, "Firing order, as in 1-3-4-2.", &r.order},
        {"--intervals", "DEG,...", group, "Degrees from each firing to the next; they sum to 720.",
         &r.intervals},
        {"--fault", "CYL:KIND[:AMOUNT]", group,
         "Cylinder, kind and amount, repeatable: 3:rings:4. Kinds with mm2 of leak: rings, intake-valve, "
         "exhaust-valve, gasket (2/3:gasket between two); with % lost: ratio, charge, exhaust-lift. Without "
         "an amount, a usual one.",
         &r.faults},
        {"--intake-closes", "[CYL:]DEG", group,
         "Where the intake closes, crank degrees after firing TDC (default -115); 3:-90 moves cylinder 3 "
         "alone; repeatable.",
         &r.intake_closes},
        {"--exhaust-opens", "[CYL:]DEG", group,
         "Where the exhaust opens, crank degrees after firing TDC (default 130); 3:150 moves cylinder 3 "
         "alone; repeatable.",
         &r.exhaust_opens},
        {"--cam-late", "DEG", group,
         "Every valve event this many crank degrees late, as when a belt has jumped; negative is early "
         "(default 0).",
         &r.cam_late_deg},
        {"--speed", "RPM", group, "Cranking speed to aim at (default 200).", &r.speed_rpm},
        {"--compression-ratio", "RATIO", group, "Compression ratio (default 10.5).", &r.compression_ratio},
        {"--altitude", "M", group, "Height above sea level; sets ambient pressure (default 99 kPa).",
         &r.altitude_m},
        {"--starter", "KIND", group, "Kind of starter (default permanent-magnet).",
         Choice{&r.starter, {"permanent-magnet", "series"}}},
        {"--ends-by", "EVENT", group, "What ends the cranking (default release).",
         Choice{&r.ends_by, {"release", "start", "recording"}}},
    };
}

std::vector<Option> recording_flags(SynthRequest& r) {
    constexpr const char* group = "Recording";
    return {
        {"--seconds", "S", group, "Length of the recording (default 6).", &r.seconds},
        {"--rate", "HZ", group, "Samples per second (default 10000).", &r.rate_hz},
        {"--noise", "A", group, "Noise of the clamp, standard deviation (default 1.5).", &r.noise_a},
        {"--only", "CHANNEL", group,
         "Record only this one of current, battery voltage and cylinder pressure. By default --pressure is "
         "recorded beside the other two.",
         Choice{&r.only, {"current", "battery", "pressure"}}},
        {"--sync", "EVERY", group, "Sync mark of the first cylinder: cycle (default), turn or none.",
         Choice{&r.sync, {"cycle", "turn", "none"}}},
        {"--sync-lead", "DEG", group, "Degrees from the mark to that cylinder's TDC.", &r.sync_lead_deg},
        {"--wheel", "TEETH-MISSING", group,
         "Toothed crank wheel, as in 60-2, or degrees from tooth to tooth.", &r.wheel},
        {"--wheel-as", "FORM", group, "edges (default: a list and nothing else) or analog.",
         Choice{&r.wheel_as, {"edges", "analog"}}, "--wheel"},
        {"--cam", "", group, "Record a cam mark too.", &r.cam},
    };
}

/// What a transducer is asked to be.
std::vector<Option> transducer_flags(SynthRequest& r) {
    constexpr const char* group = "Cylinder pressure";
    return {
        {"--pressure-unit", "UNIT", group, "Unit of the channel; V is a voltage (default kPa).",
         Choice{&r.transducer.unit, {"kPa", "MPa", "bar", "psi", "V"}}},
        {"--pressure-scale", "KPA", group, "With V: kPa that one volt stands for (default 500).",
         &r.pressure_kpa_per_v},
        {"--pressure-zero", "V", group, "With V: volts at a reading of 0 kPa (default 0).",
         &r.pressure_zero_v},
        {"--pressure-gauge", "", group,
         "The transducer reads above ambient, not absolute (default absolute).", &r.transducer.gauge},
        {"--pressure-offset", "KPA", group, "Sensor offset: reading less true (default 0).",
         &r.pressure_offset_kpa},
        {"--pressure-noise", "KPA", group, "Noise, standard deviation (default 2).", &r.pressure_noise_kpa},
        {"--pressure-drift", "KPA/S", group, "Drift of the sensor offset (default 0).",
         &r.transducer.drift_kpa_per_s},
        {"--pressure-bandwidth", "HZ", group,
         "-3 dB frequency of a slow transducer, first order, whose peaks come late and low (default fast).",
         &r.transducer.bandwidth_hz},
        {"--pressure-limit", "KPA", group, "Readings clip at this value, of either sign (default: no limit).",
         &r.transducer.limit_kpa},
        {"--pressure-reversed", "", group, "The leads are the wrong way round.", &r.transducer.reversed},
        {"--check-valve", "", group,
         "A compression gauge instead: a check valve holds its peak, and it reads above ambient.",
         &r.transducer.check_valve},
    };
}

/// Everything about the transducer asks for --pressure, so that nothing said is left unheard.
std::vector<Option> pressure_flags(SynthRequest& r) {
    std::vector<Option> flags = {
        {"--pressure", "CYL", "Cylinder pressure",
         "Record the pressure in this cylinder too (its number in --order, else its position).",
         &r.pressure}};
    for (Option& flag : transducer_flags(r)) {
        flag.needs = "--pressure";
        flags.push_back(flag);
    }
    return flags;
}

std::vector<Option> output_flags(SynthRequest& r) {
    constexpr const char* group = "Output";
    return {
        {"--format", "FORMAT", group,
         "csv, semicolon (with decimal comma), tab (with ms), wav or flac; otherwise taken from the file "
         "name. Audio full scale: 1000 A unless drawn, 20 V (a drawn 24 V battery: 40 V), 10000 kPa.",
         Choice{&r.format, {"csv", "semicolon", "tab", "wav", "flac"}}},
        {"--seed", "N", group, "Equal seeds give equal recordings (default 1).", WholeNumber{&r.seed, 0, {}}},
        {"--truth", "FILE", group, "Write the engine's true values, as JSON.", &r.truth},
        {"--output", "FILE", group, "Where the recording goes (default -, standard output).", &r.output},
    };
}

}  // namespace

std::vector<Option> synth_flags(SynthRequest& request) {
    std::vector<Option> all;
    for (const auto& flags :
         {engine_flags(request), recording_flags(request), pressure_flags(request), output_flags(request)})
        all.insert(all.end(), flags.begin(), flags.end());
    return all;
}

}  // namespace evenstroke::cli
