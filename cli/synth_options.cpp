// From what the user said to the engine and the measuring chain of the library.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/pressure.hpp"
#include "option_values.hpp"
#include "synth_request.hpp"

namespace evenstroke::cli {

namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& problem, const std::string& remedy) {
    throw Error(ErrorCode::bad_option, option, problem, remedy);
}

double number(const std::string& option, const std::string& text) {
    try {
        return cli::number(text);
    } catch (const BadUsage& error) {
        refuse(option, error.what(), "write a number with a decimal point");
    }
}

/// A cylinder's number.
int whole_number(const std::string& option, const std::string& text) {
    try {
        return cli::whole_number(text);
    } catch (const BadUsage& error) {
        refuse(option, error.what(), "write cylinder numbers, as in 1-3-4-2");
    }
}

std::vector<double> numbers(const std::string& option, const std::string& text) {
    std::vector<double> values;
    if (text.empty()) return values;
    for (const std::string& part : split(text, ",;")) values.push_back(number(option, part));
    return values;
}

/// The position of a cylinder's name; without an order names are positions.
int position_of(const EngineLayout& layout, const char* option, const std::string& text) {
    const int cylinder = whole_number(option, text);
    for (std::size_t i = 0; i < layout.order.size(); ++i)
        if (layout.order[i] == cylinder) return static_cast<int>(i);
    if (!layout.order.empty() || cylinder < 1 || cylinder > layout.cylinders())
        refuse(option, fmt::format("there is no cylinder {}", text),
               fmt::format("name one of the {} cylinders", layout.cylinders()));
    return cylinder - 1;
}

SynthFault parse_fault(const EngineLayout& layout, const std::string& text) {
    const std::vector<std::string> parts = split(text, ":");
    const char* remedy = "write CYLINDER:KIND or CYLINDER:KIND:AMOUNT, as in 3:rings:4 or 2/3:gasket";
    if (parts.size() < 2 || parts.size() > 3)
        refuse("--fault", fmt::format("\"{}\" is not a fault", text), remedy);
    SynthFault fault;
    const auto kind = find_fault_kind(parts[1]);
    if (!kind)
        refuse("--fault", fmt::format("no kind of fault is called \"{}\"", parts[1]),
               "choose rings, intake-valve, exhaust-valve, gasket, ratio, charge or exhaust-lift");
    fault.kind = *kind;
    const std::vector<std::string> names = split(parts[0], "/");
    if (names.size() > 2 || (names.size() == 2 && *kind != FaultKind::gasket))
        refuse("--fault", fmt::format("\"{}\" is not a cylinder", parts[0]), remedy);
    fault.position = position_of(layout, "--fault", names[0]);
    if (names.size() == 2) fault.neighbour = position_of(layout, "--fault", names[1]);
    fault.amount = parts.size() == 3 ? number("--fault", parts[2]) : usual_amount(*kind);
    return fault;
}

/// Sets an event of the engine, DEG, or of one cylinder, CYL:DEG. `base_deg` is added: the library counts
/// from 0 to 720.
void set_valve(SynthEngine& engine, const char* option, const std::vector<std::string>& texts,
               double base_deg, double SynthEngine::*whole, std::optional<double> SynthTiming::*one) {
    for (const std::string& text : texts) {
        const std::vector<std::string> parts = split(text, ":");
        if (parts.size() > 2)
            refuse(option, fmt::format("\"{}\" is not an angle", text),
                   "write degrees after firing TDC, for one cylinder CYLINDER:DEGREES, as in 3:-90");
        const double deg = number(option, parts.back()) + base_deg;
        if (parts.size() == 1) {
            engine.*whole = deg;
            continue;
        }
        SynthTiming timing;
        timing.position = position_of(engine.layout, option, parts.front());
        timing.*one = deg;
        engine.timing.push_back(timing);
    }
}

/// A camshaft that runs late moves every event of every valve.
void set_late(SynthEngine& engine, double late_deg) {
    constexpr double most_deg = 60;  // a chain or belt that has jumped farther lets valves meet pistons
    if (!(std::abs(late_deg) <= most_deg))
        refuse("--cam-late", fmt::format("{:g} degrees cannot be simulated", late_deg),
               "give crank degrees, -60 (early) to 60 (late)");
    for (double* deg : {&engine.intake_opens_deg, &engine.intake_closes_deg, &engine.exhaust_opens_deg,
                        &engine.exhaust_closes_deg})
        *deg += late_deg;
    for (SynthTiming& timing : engine.timing)
        for (auto* deg : {&timing.intake_closes_deg, &timing.exhaust_opens_deg})
            if (*deg) **deg += late_deg;
}

void set_valves(SynthEngine& engine, const SynthRequest& request) {
    set_valve(engine, "--intake-closes", request.intake_closes, cycle_deg, &SynthEngine::intake_closes_deg,
              &SynthTiming::intake_closes_deg);
    set_valve(engine, "--exhaust-opens", request.exhaust_opens, 0, &SynthEngine::exhaust_opens_deg,
              &SynthTiming::exhaust_opens_deg);
    if (request.cam_late_deg) set_late(engine, *request.cam_late_deg);
}

void set_pressure(SynthOptions& options, const SynthRequest& request) {
    SynthChain& chain = options.chain;
    if (request.pressure.empty()) {
        if (request.only == "pressure")
            throw BadUsage("--only pressure needs a cylinder to measure in: add --pressure CYL");
        return;
    }
    chain.pressure_position = position_of(options.engine.layout, "--pressure", request.pressure);
    chain.transducer = request.transducer;
    if ((request.pressure_kpa_per_v || request.pressure_zero_v) && chain.transducer.unit != "V")
        throw BadUsage("--pressure-scale and --pressure-zero belong to a voltage: add --pressure-unit V");
    const auto set = [](double& target, const std::optional<double>& value) {
        target = value.value_or(target);
    };
    set(chain.transducer.kpa_per_v, request.pressure_kpa_per_v);
    set(chain.transducer.zero_v, request.pressure_zero_v);
    set(chain.pressure_offset_kpa, request.pressure_offset_kpa);
    set(chain.pressure_noise_kpa, request.pressure_noise_kpa);
}

/// The air outside at a height.
void set_altitude(SynthEngine& engine, double altitude_m) {
    if (!(altitude_m >= -500 && altitude_m <= 6000))
        refuse("--altitude", fmt::format("no engine is cranked at {:g} m", altitude_m),
               "give metres above sea level, -500 to 6000");
    engine.ambient_kpa = ambient_at_kpa(altitude_m);
}

void set_layout(SynthOptions& options, const SynthRequest& request) {
    std::vector<int> order;
    if (!request.order.empty())
        for (const std::string& part : split(request.order, "-,"))
            order.push_back(whole_number("--order", part));
    auto intervals = numbers("--intervals", request.intervals);
    if (request.family.empty()) {
        const bool said = request.cylinders || !order.empty() || !intervals.empty();
        constexpr int usual_cylinders = 4;
        const auto count = said ? request.cylinders : std::optional<int>(usual_cylinders);
        options.engine.layout = make_layout(count, order, intervals, std::nullopt);
        options.engine.faults.clear();
        return;
    }
    // A drawn engine keeps its cylinders, intervals and faults; an order names them.
    const EngineLayout drawn = options.engine.layout;
    if (intervals.empty()) intervals = drawn.intervals_deg;
    const auto count = request.cylinders.value_or(drawn.cylinders());
    const auto named = order.empty() ? drawn.cylinders() : static_cast<int>(order.size());
    for (const int said : {count, named, static_cast<int>(intervals.size())})
        if (said != drawn.cylinders())
            refuse("--family",
                   fmt::format("\"{}\" draws {} cylinders, not {}", request.family, drawn.cylinders(), said),
                   "omit --cylinders, --order and --intervals, or give as many cylinders");
    options.engine.layout = make_layout(count, order, intervals, std::nullopt);
}

/// As `crank` takes it.
void set_sync_lead(SynthChain& chain, double lead_deg) {
    if (!(std::abs(lead_deg) <= cycle_deg))
        refuse("--sync-lead", fmt::format("{:g} is more than a cycle of 720 degrees", lead_deg),
               "give the crank degrees from the mark to TDC, as in --sync-lead 60");
    chain.sync_lead_deg = lead_deg;
}

void set_chain(SynthChain& chain, const SynthRequest& request) {
    if (request.noise_a) chain.noise_a = *request.noise_a;
    if (request.rate_hz) chain.rate_hz = *request.rate_hz;
    if (request.sync_lead_deg) set_sync_lead(chain, *request.sync_lead_deg);
    if (request.sync == "cycle") chain.sync = SyncKind::once_per_cycle;
    if (request.sync == "turn") chain.sync = SyncKind::once_per_turn;
    if (request.sync == "none") chain.sync = SyncKind::none;
    if (request.only == "current" || request.only == "pressure") chain.battery = false;
    if (request.only == "battery" || request.only == "pressure") chain.current = false;
    chain.cam = request.cam;
    if (request.wheel.empty()) return;
    chain.pattern = parse_wheel(request.wheel);
    chain.wheel = request.wheel_as == "analog" ? WheelKind::analog : WheelKind::edges;
}

/// Six and more cylinders get a starter and battery in proportion to the four that the defaults suit.
void suit_size(SynthOptions& options) {
    const double size = options.engine.layout.cylinders() / 4.0;
    if (size <= 1) return;
    options.starter.resistance_mohm /= size;
    options.starter.inductance_uh /= size;
    options.battery.resistance_mohm /= size;
    options.battery.sag_mohm /= size;
    options.battery.cable_mohm /= size;
    options.engine.inertia_kg_m2 *= size;
    options.starter.rotor_inertia_kg_m2 *= size;
    options.starter.clutch_nm_per_rad *= size;
}

void set_run(SynthRun& run, const SynthRequest& request) {
    if (request.ends_by == "start") run.ends_by = CrankingEnd::engine_start;
    if (request.ends_by == "release") run.ends_by = CrankingEnd::release;
    if (request.ends_by == "recording") run.ends_by = CrankingEnd::recording_end;
    if (request.seconds || !request.ends_by.empty()) {
        run.duration_s = request.seconds.value_or(run.duration_s);
        constexpr double after_release_s = 0.5, after_start_s = 1.2;
        run.stop_s =
            run.duration_s - (run.ends_by == CrankingEnd::engine_start ? after_start_s : after_release_s);
    }
}

}  // namespace

SynthOptions synth_options(const SynthRequest& request) {
    SynthOptions options;
    if (!request.family.empty()) options = draw_engine(request.seed, request.family);
    set_layout(options, request);
    for (const std::string& text : request.faults)
        options.engine.faults.push_back(parse_fault(options.engine.layout, text));
    if (request.speed_rpm) options.engine.speed_rpm = *request.speed_rpm;
    if (request.compression_ratio) options.engine.geometry.compression_ratio = *request.compression_ratio;
    if (request.starter == "series") options.starter.kind = StarterKind::series;
    if (request.starter == "permanent-magnet") options.starter.kind = StarterKind::permanent_magnet;
    if (request.family.empty()) suit_size(options);
    set_valves(options.engine, request);
    if (request.altitude_m) set_altitude(options.engine, *request.altitude_m);
    set_chain(options.chain, request);
    set_pressure(options, request);
    set_run(options.run, request);
    return options;
}

}  // namespace evenstroke::cli
