#include "evenstroke/synth.hpp"

#include <fmt/core.h>

#include <array>
#include <cmath>

#include "synth/chain.hpp"
#include "synth/transducer.hpp"

namespace evenstroke {

namespace {

struct KindName {
    FaultKind kind;
    const char* name;
    double usual_amount;
};

// Amounts from the model itself: each but the last takes a third to a half off the peak of a half-litre
// cylinder at 200 rpm.
constexpr std::array<KindName, 7> kind_names{{{FaultKind::rings, "rings", 3.0},
                                              {FaultKind::intake_valve, "intake-valve", 3.0},
                                              {FaultKind::exhaust_valve, "exhaust-valve", 3.0},
                                              {FaultKind::gasket, "gasket", 3.0},
                                              {FaultKind::ratio, "ratio", 30.0},
                                              {FaultKind::charge, "charge", 35.0},
                                              {FaultKind::exhaust_lift, "exhaust-lift", 100.0}}};

void require(bool good, const char* what, const std::string& problem, const char* remedy) {
    if (!good) throw Error(ErrorCode::bad_option, what, problem, remedy);
}

/// A channel takes 4 bytes a sample, some at once: a few hundred MB at most.
constexpr double most_samples = 2e7;

/// Valve events where engines have them, with a wide margin: a belt that has jumped teeth is a fault to show.
void check_valves(const SynthEngine& engine) {
    const auto closes = [](double deg) {
        require(deg >= 500 && deg <= 690, "--intake-closes",
                fmt::format("an intake that closes {:g} degrees after firing TDC cannot be simulated",
                            deg - cycle_deg),
                "give crank degrees after firing TDC, -220 to -30, as in -115");
    };
    const auto opens = [](double deg) {
        require(deg >= 60 && deg <= 220, "--exhaust-opens",
                fmt::format("an exhaust that opens {:g} degrees after firing TDC cannot be simulated", deg),
                "give crank degrees after firing TDC, 60 to 220, as in 130");
    };
    closes(engine.intake_closes_deg);
    opens(engine.exhaust_opens_deg);
    for (const SynthTiming& timing : engine.timing) {
        require(timing.position >= 0 && timing.position < engine.layout.cylinders(), "timing",
                "there is no such cylinder", "name a cylinder of the engine");
        if (timing.intake_closes_deg) closes(*timing.intake_closes_deg);
        if (timing.exhaust_opens_deg) opens(*timing.exhaust_opens_deg);
    }
}

void check(const SynthOptions& options) {
    const SynthRun& run = options.run;
    const SynthChain& chain = options.chain;
    const SynthEngine& engine = options.engine;
    const int cylinders = engine.layout.cylinders();
    if (cylinders < 1 || cylinders > max_cylinders)
        throw Error(ErrorCode::bad_engine, "synth",
                    fmt::format("{} cylinders cannot be simulated", cylinders),
                    fmt::format("give 1 to {} cylinders", max_cylinders));
    require(run.duration_s >= 1 && run.duration_s <= 120, "--seconds",
            fmt::format("a recording of {:g} s cannot be made", run.duration_s), "give 1 to 120 s");
    require(run.engage_s >= 0 && run.engage_s < run.duration_s, "engage",
            "the starter engages outside the recording", "let it engage inside");
    require(run.ends_by == CrankingEnd::recording_end ||
                (run.stop_s > run.engage_s && run.stop_s < run.duration_s),
            "--seconds", "cranking ends outside the recording",
            "let it end before the recording does: make the recording longer");
    require(chain.rate_hz >= 100 && chain.rate_hz <= 1e6, "--rate",
            fmt::format("{:g} samples per second cannot be made", chain.rate_hz), "give 100 to 1000000 Hz");
    require(
        run.duration_s * chain.rate_hz <= most_samples, "--seconds",
        fmt::format("{:g} s at {:g} samples per second are too many samples", run.duration_s, chain.rate_hz),
        "make it shorter or lower the rate");
    require(chain.noise_a >= 0 && std::isfinite(chain.noise_a), "--noise",
            fmt::format("{:g} A of noise cannot be made", chain.noise_a), "give 0 A or more");
    require(std::isfinite(chain.sync_lead_deg), "--sync-lead", "the lead is not a number",
            "give crank degrees, as in 60");
    require(engine.speed_rpm >= 40 && engine.speed_rpm <= 600, "--speed",
            fmt::format("{:g} rpm is not a cranking speed", engine.speed_rpm), "give 40 to 600 rpm");
    require(chain.adc_bits >= 6 && chain.adc_bits <= 24, "bits", "no converter has that many bits",
            "give 6 to 24 bits");
    require(engine.geometry.compression_ratio > 2 && engine.geometry.compression_ratio < 30,
            "--compression-ratio", "that compression ratio cannot be simulated", "give 2 to 30");
    check_valves(engine);
    if (!chain.pressure_position) return;
    require(*chain.pressure_position >= 0 && *chain.pressure_position < cylinders, "--pressure",
            "there is no such cylinder", "name a cylinder of the engine");
    require(chain.wheel != WheelKind::edges, "--pressure",
            "a wheel written as a list of edges cannot hold a sampled pressure",
            "record the wheel as an analog voltage (--wheel-as analog)");
    synth::check_transducer(chain);
}

/// Seeds of the parts are spread apart, so that a change of the chain leaves the engine as it was.
constexpr std::uint64_t chain_seed_offset = 0x9E3779B97F4A7C15;

}  // namespace

const char* name(FaultKind kind) {
    for (const KindName& entry : kind_names)
        if (entry.kind == kind) return entry.name;
    return "";
}

std::optional<FaultKind> find_fault_kind(std::string_view text) {
    for (const KindName& entry : kind_names)
        if (text == entry.name) return entry.kind;
    return std::nullopt;
}

bool counts_in_percent(FaultKind kind) {
    return kind == FaultKind::ratio || kind == FaultKind::charge || kind == FaultKind::exhaust_lift;
}

double usual_amount(FaultKind kind) {
    for (const KindName& entry : kind_names)
        if (entry.kind == kind) return entry.usual_amount;
    return 0;
}

const char* name(StarterKind kind) {
    return kind == StarterKind::series ? "series" : "permanent-magnet";
}

SynthResult synthesise(const SynthOptions& options, std::uint64_t seed) {
    check(options);
    synth::Run run = synth::simulate(options, seed);
    SynthResult result;
    result.recording = synth::measure(options, run.motion, seed + chain_seed_offset);
    result.truth = std::move(run.truth);
    return result;
}

}  // namespace evenstroke
