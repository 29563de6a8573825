// What one cylinder's pressure transducer says, against the truth: TDC, speed, peak, offset, valves, verdict.
#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "drawn.hpp"
#include "evenstroke/findings.hpp"
#include "evenstroke/pressure.hpp"
#include "modes.hpp"
#include "spread.hpp"

namespace accuracy {

namespace {

using namespace evenstroke;

/// Gauge peak over that of the same cylinder without its leaks: below and above these a verdict can be wrong.
/// The verdict's own limit is 75 % (docs/pressure.md, "Verdicts"); nearer to it neither word is.
constexpr double leaking_below_pct = 70, sound_above_pct = 80;
constexpr std::array outcomes = {PressureVerdict::sealing,     PressureVerdict::leaking,
                                 PressureVerdict::low_charge,  PressureVerdict::low_compression,
                                 PressureVerdict::late_valves, PressureVerdict::early_valves,
                                 PressureVerdict::inconclusive};

/// Errors of one recording; what was not given is empty.
struct Engine {
    std::string family;
    std::uint64_t seed = 0;
    bool drawn = false;
    std::string why_not;                    // empty when compressions were fitted
    std::vector<double> tdc_deg, peak_pct;  // of each compression used; signed
    int held = 0;                           // TDC intervals that hold the truth
    std::optional<double> speed_pct, offset_kpa, closes_deg, opens_deg;  // signed
    double sealed_pct = 0, leak_mm2 = 0;                                 // truth
    std::optional<double> found_sealed_pct, found_leak_mm2;
    bool sealed_held = false, leak_held = false;            // by the intervals of these
    std::optional<double> misfit_ratio, strain_sd;          // of the fit
    std::optional<double> swing_pct;                        // highest over lowest speed near TDC, found
    std::optional<double> closes_half_deg, opens_half_deg;  // of the intervals found
    PressureVerdict outcome = PressureVerdict::inconclusive;
    std::string fault = "none";  // of this cylinder
    double estimate_s = 0;
};

/// The transducer that a technician may have: absolute, its zero a little off, in one cylinder.
void hold_a_transducer(SynthOptions& drawn, std::uint64_t seed) {
    std::mt19937_64 random(seed * 0x9E3779B97F4A7C15 + 1);
    const auto between = [&random](double low, double high) {
        return low + (high - low) * static_cast<double>(random() >> 11) * 0x1p-53;
    };
    SynthChain& chain = drawn.chain;
    chain.current = chain.battery = false;
    chain.sync = SyncKind::none;
    const auto& faults = drawn.engine.faults;
    const int cylinders = drawn.engine.layout.cylinders();
    const double chosen = between(0, cylinders);
    // Every other engine is held by the cylinder whose fault was drawn.
    chain.pressure_position =
        seed % 2 == 0 && !faults.empty() ? faults[0].position : static_cast<int>(chosen);
    chain.pressure_offset_kpa = between(-15, 15);
    chain.pressure_noise_kpa = between(0.5, 3);
}

/// What a user knows: dimensions as built for, and the height of the place; the weather it does not tell.
PressureOptions options_for(const SynthEngine& engine) {
    PressureOptions o;
    o.bore_m = engine.geometry.bore_m;
    o.stroke_m = engine.geometry.stroke_m;
    o.rod_m = engine.geometry.rod_m;
    o.compression_ratio = engine.geometry.compression_ratio;
    o.altitude_m = altitude_of_m(engine.ambient_kpa);
    return o;
}

/// Mean gauge peak without leaks in this cylinder, kPa.
double sealed_peak_kpa(SynthOptions drawn, std::uint64_t seed) {
    const int position = *drawn.chain.pressure_position;
    drawn.engine.leak_mm2 = 0;
    std::erase_if(drawn.engine.faults, [&](const SynthFault& f) {
        const bool leak = !counts_in_percent(f.kind);
        return leak && (f.position == position || f.neighbour == position);
    });
    drawn.chain.rate_hz = 1000;
    return synthesise(drawn, seed).truth.peak_kpa[static_cast<std::size_t>(position)];
}

void compare_pulses(const Pressure& found, const SynthOptions& drawn, const SynthTruth& truth, Engine& e) {
    for (const PressurePulse& pulse : found.pulses) {
        if (!pulse.used || !pulse.tdc_s) continue;
        const SynthEvent* nearest = nullptr;
        for (const SynthEvent& event : truth.events)
            if (event.position == *drawn.chain.pressure_position &&
                (!nearest || std::abs(event.tdc_s - *pulse.tdc_s) < std::abs(nearest->tdc_s - *pulse.tdc_s)))
                nearest = &event;
        // Further away it is another compression: one that the truth leaves out, as the key was let go.
        constexpr double nearest_deg = 180;
        if (!nearest || std::abs(*pulse.tdc_s - nearest->tdc_s) * truth.speed_rpm * 6 > nearest_deg) continue;
        e.tdc_deg.push_back((*pulse.tdc_s - nearest->tdc_s) * truth.speed_rpm * 6);
        e.held += *pulse.tdc_low_s <= nearest->tdc_s && nearest->tdc_s <= *pulse.tdc_high_s;
        const double true_kpa = nearest->peak_kpa + drawn.engine.ambient_kpa;
        if (pulse.peak_kpa) e.peak_pct.push_back(100 * (*pulse.peak_kpa / true_kpa - 1));
    }
}

/// True mean speed over the cycles that the found one was taken over: from the second compression to the
/// last.
std::optional<double> speed_rpm(const Pressure& found, const SynthOptions& drawn, const SynthTruth& truth) {
    std::vector<double> tdc_s;
    for (const SynthEvent& event : truth.events)
        if (event.position == *drawn.chain.pressure_position) tdc_s.push_back(event.tdc_s);
    std::vector<double> seen_s;
    for (const PressurePulse& pulse : found.pulses) seen_s.push_back(pulse.peak_s);
    if (seen_s.size() < 3 || tdc_s.empty()) return std::nullopt;
    const auto at = [&](double time_s) {
        return std::min_element(tdc_s.begin(), tdc_s.end(), [&](double a, double b) {
            return std::abs(a - time_s) < std::abs(b - time_s);
        });
    };
    const auto first = at(seen_s[seen_s.size() > 3 ? 1 : 0]), last = at(seen_s.back());
    if (last <= first) return std::nullopt;
    return 120 * static_cast<double>(last - first) / (*last - *first);
}

std::optional<double> apart(const std::optional<double>& found, double truth) {
    return found ? std::optional(*found - truth) : std::nullopt;
}

void compare(const Pressure& found, const SynthOptions& drawn, const SynthTruth& truth, Engine& e) {
    compare_pulses(found, drawn, truth, e);
    const auto at = static_cast<std::size_t>(*drawn.chain.pressure_position);
    const TruthCylinder& cylinder = truth.cylinders[at];
    if (found.speed_rpm)
        if (const auto rpm = speed_rpm(found, drawn, truth))
            e.speed_pct = 100 * (found.speed_rpm->value / *rpm - 1);
    if (found.sensor_offset_kpa)
        e.offset_kpa = found.sensor_offset_kpa->value - drawn.chain.pressure_offset_kpa;
    e.closes_deg = apart(found.intake_closes_deg, cylinder.intake_closes_deg);
    e.opens_deg = apart(found.exhaust_opens_deg, cylinder.exhaust_opens_deg);
    if (found.intake_closes_interval_deg)
        e.closes_half_deg =
            (found.intake_closes_interval_deg->high - found.intake_closes_interval_deg->low) / 2;
    if (found.exhaust_opens_interval_deg)
        e.opens_half_deg =
            (found.exhaust_opens_interval_deg->high - found.exhaust_opens_interval_deg->low) / 2;
    if (found.speed_least_rpm) e.swing_pct = 100 * (*found.speed_most_rpm / *found.speed_least_rpm - 1);
    e.misfit_ratio = found.misfit_ratio;
    e.strain_sd = found.strain_sd;
    e.leak_mm2 = cylinder.rings_leak_mm2 + cylinder.intake_leak_mm2 + cylinder.exhaust_leak_mm2;
    const auto holds = [](const Figure& f, double value) { return f.low <= value && value <= f.high; };
    if (found.leak_mm2) {
        e.found_leak_mm2 = found.leak_mm2->value;
        e.leak_held = holds(*found.leak_mm2, e.leak_mm2);
    }
    if (found.sealed_ratio) {
        e.found_sealed_pct = 100 * found.sealed_ratio->value;
        e.sealed_held = holds(*found.sealed_ratio, e.sealed_pct / 100);
    }
}

void analyse_one(Engine& e) {
    SynthOptions drawn = draw_engine(e.seed, e.family);
    hold_a_transducer(drawn, e.seed);
    SynthResult made;
    double sealed_kpa = 0;
    try {
        made = synthesise(drawn, e.seed);
        sealed_kpa = sealed_peak_kpa(drawn, e.seed);
    } catch (const Error&) {
        return;  // an engine that its starter cannot turn
    }
    e.drawn = true;
    const int position = *drawn.chain.pressure_position;
    e.sealed_pct = 100 * made.truth.peak_kpa[static_cast<std::size_t>(position)] / sealed_kpa;
    for (const SynthFault& fault : drawn.engine.faults)
        if (fault.position == position || fault.neighbour == position) e.fault = name(fault.kind);
    try {
        const PressureOptions options = options_for(drawn.engine);
        const auto begin = std::chrono::steady_clock::now();
        const Pressure found = measure_pressure(made.recording, options);
        e.estimate_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
        e.outcome = judge_pressure(found, options).outcome;
        if (found.inconclusive || !found.tdc_known()) {
            e.why_not = found.inconclusive.value_or("nothing was fitted");
            return;
        }
        compare(found, drawn, made.truth, e);
    } catch (const Error& error) {
        e.why_not = error.what();
    }
}

/// Sizes of the errors, each family's and all.
struct Errors {
    std::vector<double> tdc, speed, peak, offset, closes, opens;
    int pulses = 0, held = 0, none = 0, drawn = 0;
};

Errors gather(const std::vector<Engine>& engines, const std::string& family) {
    Errors sum;
    const auto add = [](std::vector<double>& to, const auto& errors) {
        for (const double error : errors) to.push_back(std::abs(error));
    };
    const auto add_one = [](std::vector<double>& to, const std::optional<double>& error) {
        if (error) to.push_back(std::abs(*error));
    };
    for (const Engine& e : engines) {
        if (!family.empty() && e.family != family) continue;
        sum.drawn += e.drawn;
        sum.none += !e.why_not.empty();
        sum.held += e.held;
        sum.pulses += static_cast<int>(e.tdc_deg.size());
        add(sum.tdc, e.tdc_deg);
        add(sum.peak, e.peak_pct);
        add_one(sum.speed, e.speed_pct);
        add_one(sum.offset, e.offset_kpa);
        add_one(sum.closes, e.closes_deg);
        add_one(sum.opens, e.opens_deg);
    }
    return sum;
}

void print_errors(const std::string& name, const Errors& e) {
    if (e.tdc.empty()) {
        fmt::print("{:<13} nothing analysed of {}\n", name, e.drawn);
        return;
    }
    const auto given = [](const std::vector<double>& values) {
        return fmt::format("{} ({})", spread(values), values.size());
    };
    fmt::print("{:<13} {:<18} {:>3.0f} % {:<18} {:<18} {:<19} {:<23} {:<23} {:>2}/{}\n", name, spread(e.tdc),
               100.0 * e.held / e.pulses, spread(e.speed), spread(e.peak), spread(e.offset), given(e.closes),
               given(e.opens), e.none, e.drawn);
}

void print_verdicts(const std::vector<Engine>& engines) {
    struct Row {
        const char* name;
        double low_pct, high_pct;
    };
    const Row rows[] = {{"sound", sound_above_pct, 1e9},
                        {"between", leaking_below_pct, sound_above_pct},
                        {"leaking", -1e9, leaking_below_pct}};
    fmt::print(
        "\nVerdicts. Sound: the gauge peak is above {:g} % of what it would be without leaks; leaking: "
        "below {:g} %.\n\n{:<13}",
        sound_above_pct, leaking_below_pct, "in truth");
    for (const PressureVerdict outcome : outcomes) fmt::print(" {:>15}", name(outcome));
    fmt::print("\n");
    for (const Row& row : rows) {
        fmt::print("{:<13}", row.name);
        for (const PressureVerdict outcome : outcomes)
            fmt::print(" {:>15}", std::count_if(engines.begin(), engines.end(), [&](const Engine& e) {
                           return e.drawn && e.outcome == outcome && e.sealed_pct >= row.low_pct &&
                                  e.sealed_pct < row.high_pct;
                       }));
        fmt::print("\n");
    }
}

/// Of all pairs of recordings, how many leaks are ranked as they are.
void print_ranking(const std::vector<Engine>& engines) {
    int pairs = 0, right = 0;
    for (const Engine& a : engines)
        for (const Engine& b : engines) {
            if (!a.found_leak_mm2 || !b.found_leak_mm2 || !(a.leak_mm2 < b.leak_mm2)) continue;
            ++pairs;
            right += *a.found_leak_mm2 < *b.found_leak_mm2;
        }
    if (pairs > 0)
        fmt::print("\nleaks of two recordings ranked right: {:.0f} % of {} pairs\n", 100.0 * right / pairs,
                   pairs);
}

/// How many intervals of the leak's area and of what it costs hold the truth. The area of a gasket's leak
/// lies between two cylinders and is not told as one of either.
void print_held(const std::vector<Engine>& engines) {
    int areas = 0, areas_held = 0, peaks = 0, peaks_held = 0;
    for (const Engine& e : engines) {
        if (e.found_leak_mm2 && e.fault != "gasket") {
            ++areas;
            areas_held += e.leak_held;
        }
        if (!e.found_sealed_pct) continue;
        ++peaks;
        peaks_held += e.sealed_held;
    }
    if (areas > 0 && peaks > 0)
        fmt::print("intervals hold: leak area {:.0f} % of {}, peak over that without leaks {:.0f} % of {}\n",
                   100.0 * areas_held / areas, areas, 100.0 * peaks_held / peaks, peaks);
}

void write_rows(const char* path, const std::vector<Engine>& engines) {
    std::FILE* file = std::fopen(path, "w");
    if (!file) throw Error(ErrorCode::unusable, path, "this file cannot be written", "name another");
    fmt::print(file,
               "family,seed,fault,sealed_pct,found_sealed_pct,leak_mm2,found_leak_mm2,outcome,pulses,"
               "tdc_mean_deg,tdc_worst_deg,misfit_ratio,strain_sd,swing_pct,speed_pct,peak_pct,offset_kpa,"
               "closes_deg,closes_half_"
               "deg,opens_deg,"
               "opens_half_deg,why_not\n");
    const auto cell = [](const std::optional<double>& v) {
        return v ? fmt::format("{:.3f}", *v) : std::string();
    };
    for (const Engine& e : engines) {
        if (!e.drawn) continue;
        double sum = 0, worst = 0, peak = 0;
        for (const double error : e.tdc_deg) {
            sum += error / static_cast<double>(e.tdc_deg.size());
            if (std::abs(error) > std::abs(worst)) worst = error;
        }
        for (const double error : e.peak_pct) peak += error / static_cast<double>(e.peak_pct.size());
        const std::string mean = e.tdc_deg.empty() ? "" : fmt::format("{:.3f}", sum);
        fmt::print(file,
                   "{},{},{},{:.1f},{},{:.3f},{},{},{},{},{:.3f},{},{},{},{},{:.3f},{},{},{},{},{},\"{}\"\n",
                   e.family, e.seed, e.fault, e.sealed_pct, cell(e.found_sealed_pct), e.leak_mm2,
                   cell(e.found_leak_mm2), name(e.outcome), e.tdc_deg.size(), mean, worst,
                   cell(e.misfit_ratio), cell(e.strain_sd), cell(e.swing_pct), cell(e.speed_pct), peak,
                   cell(e.offset_kpa), cell(e.closes_deg), cell(e.closes_half_deg), cell(e.opens_deg),
                   cell(e.opens_half_deg), e.why_not);
    }
    std::fclose(file);
}

}  // namespace

void run_pressure(const Task& task) {
    auto engines = engines_of<Engine>(task);
    in_parallel(engines.size(), [&](std::size_t i) { analyse_one(engines[i]); });

    fmt::print(
        "Simulated engines (evenstroke synth), mode pressure, {} a family from seed {}; geometry and "
        "altitude "
        "given.\n"
        "Errors: mean / 95th percentile / worst, and in brackets in how many recordings the angle is "
        "given.\n\n",
        task.engines_each, task.first_seed);
    fmt::print("{:<13} {:<18} {:<5} {:<18} {:<18} {:<19} {:<23} {:<23} {}\n", "family", "TDC deg", "holds",
               "speed %", "peak %", "offset kPa", "intake closes deg", "exhaust opens deg", "none");
    for (const std::string& family : synth_families()) print_errors(family, gather(engines, family));
    print_errors("all", gather(engines, ""));
    print_verdicts(engines);
    print_ranking(engines);
    print_held(engines);
    std::vector<double> times;
    for (const Engine& e : engines)
        if (e.estimate_s > 0) times.push_back(e.estimate_s);
    if (!times.empty())
        fmt::print("\nanalysis of one recording in memory: median {:.3f} s, slowest {:.3f} s\n",
                   quantile(times, 0.5), quantile(times, 1.0));
    if (task.csv) write_rows(task.csv->c_str(), engines);
}

}  // namespace accuracy
