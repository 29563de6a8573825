// Each cylinder's contribution against the truth, and the wrong verdicts that matter.
#include "modes.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include "drawn.hpp"
#include "spread.hpp"

namespace accuracy {

namespace {

using namespace evenstroke;

struct Cylinder {
    double truth_pct, found_pct, low_pct, high_pct, simple_pct;
    Verdict verdict;
};

struct Engine {
    std::string family;
    std::uint64_t seed = 0;
    std::vector<Cylinder> cylinders;
    std::optional<double> speed_error_pct;
    std::string why_not;  // empty when analysed
    bool drawn = false;
    double estimate_s = 0;
};

/// Without a sync the first position is any cylinder that the intervals allow: of those the rotation that
/// agrees best is meant.
std::size_t best_rotation(const Contribution& found, const std::vector<double>& truth_pct,
                          const EngineLayout& layout) {
    std::size_t best = 0;
    double least = 1e300;
    for (std::size_t shift = 0; shift < truth_pct.size(); ++shift) {
        auto turned = layout.intervals_deg;
        std::rotate(turned.begin(), turned.begin() + static_cast<std::ptrdiff_t>(shift), turned.end());
        if (!layout.fires_evenly() && turned != layout.intervals_deg) continue;
        double apart = 0;
        for (std::size_t i = 0; i < truth_pct.size(); ++i)
            apart +=
                std::abs(*found.cylinders[i].contribution_pct - truth_pct[(i + shift) % truth_pct.size()]);
        if (apart < least) {
            least = apart;
            best = shift;
        }
    }
    return best;
}

void analyse_one(const std::string& mode, Engine& engine) {
    const SynthOptions drawn = drawn_for(mode, engine.family, engine.seed);
    SynthResult made;
    try {
        made = synthesise(drawn, engine.seed);
    } catch (const Error&) {
        return;  // an engine that its starter cannot turn
    }
    engine.drawn = true;
    try {
        const auto begin = std::chrono::steady_clock::now();
        const Analysis a = analyse(made.recording, options_for(drawn, mode));
        engine.estimate_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
        const Contribution& found = a.contribution;
        if (found.inconclusive || a.angle.no_reference || found.cylinders.empty() ||
            !found.cylinders[0].contribution_pct) {
            engine.why_not = found.inconclusive.value_or("no estimate");
            return;
        }
        const auto& truth = made.truth.contribution_pct;
        const bool named = mode != "events" && mode != "wheel" && mode != "wheel-lead";
        const std::size_t shift = named ? 0 : best_rotation(found, truth, drawn.engine.layout);
        for (std::size_t i = 0; i < truth.size(); ++i) {
            const CylinderContribution& c = found.cylinders[i];
            engine.cylinders.push_back(
                {truth[(i + shift) % truth.size()], *c.contribution_pct, *c.low_pct, *c.high_pct,
                 c.simple_pct.value_or(0),
                 a.findings.verdicts.empty() ? Verdict::unsure : a.findings.verdicts[i]});
        }
        if (found.speed_rpm)
            engine.speed_error_pct = 100 * std::abs(found.speed_rpm->value / made.truth.speed_rpm - 1);
    } catch (const Error& error) {
        engine.why_not = error.what();
    }
}

/// The highest has 100 % in truth and as found, but for the last binary digits.
constexpr double rounding_pct = 1e-6;

void print_family(const std::string& name, const std::vector<Engine>& engines) {
    std::vector<double> error, simple, width, speed;
    int covered = 0, healthy = 0, condemned = 0, weak = 0, missed = 0, caught = 0, refused = 0, drawn = 0;
    for (const Engine& e : engines) {
        drawn += e.drawn;
        refused += !e.why_not.empty();
        if (e.speed_error_pct) speed.push_back(*e.speed_error_pct);
        for (const Cylinder& c : e.cylinders) {
            error.push_back(std::abs(c.found_pct - c.truth_pct));
            simple.push_back(std::abs(c.simple_pct - c.truth_pct));
            width.push_back((c.high_pct - c.low_pct) / 2);
            covered += c.low_pct - rounding_pct <= c.truth_pct && c.truth_pct <= c.high_pct + rounding_pct;
            healthy += c.truth_pct > 90;
            condemned += c.truth_pct > 90 && c.verdict == Verdict::weak;
            weak += c.truth_pct < 75;
            missed += c.truth_pct < 75 && c.verdict == Verdict::even;
            caught += c.truth_pct < 75 && c.verdict == Verdict::weak;
        }
    }
    if (error.empty()) {
        fmt::print("{:<13} nothing analysed of {}\n", name, drawn);
        return;
    }
    fmt::print(
        "{:<13} {:<20} {:<21} {:>3.0f} %  ±{:<5.1f} {:>2}/{:<4} {:>2}/{:<4} {:>3}/{:<4} {:>2}/{:<4} {:.2f}\n",
        name, spread(error), spread(simple), 100.0 * covered / static_cast<double>(error.size()),
        quantile(width, 0.5), condemned, healthy, missed, weak, caught, weak, refused, drawn,
        speed.empty() ? 0.0 : quantile(speed, 0.5));
}

void write_rows(const char* path, const std::vector<Engine>& engines) {
    std::FILE* file = std::fopen(path, "w");
    if (!file) return;
    fmt::print(file,
               "family,seed,position,truth_pct,found_pct,low_pct,high_pct,simple_pct,verdict,why_not\n");
    for (const Engine& e : engines) {
        if (!e.why_not.empty()) fmt::print(file, "{},{},,,,,,,,\"{}\"\n", e.family, e.seed, e.why_not);
        for (std::size_t i = 0; i < e.cylinders.size(); ++i) {
            const Cylinder& c = e.cylinders[i];
            fmt::print(file, "{},{},{},{:.2f},{:.2f},{:.2f},{:.2f},{:.2f},{},\n", e.family, e.seed, i + 1,
                       c.truth_pct, c.found_pct, c.low_pct, c.high_pct, c.simple_pct, name(c.verdict));
        }
    }
    std::fclose(file);
}

}  // namespace

void run_contribution(const Task& task) {
    auto engines = engines_of<Engine>(task);
    in_parallel(engines.size(), [&](std::size_t i) { analyse_one(task.mode, engines[i]); });

    fmt::print(
        "Simulated engines (evenstroke synth), mode {}, {} a family from seed {}. Errors in points of "
        "contribution:\n"
        "mean / 95th percentile / worst. Healthy: above 90 %; weak: below 75 %.\n\n",
        task.mode, task.engines_each, task.first_seed);
    fmt::print("{:<13} {:<20} {:<21} {:<6} {:<6} {:<7} {:<7} {:<8} {:<7} {}\n", "family", "error",
               "humps alone", "holds", "half", "h.weak", "w.even", "w.weak", "none", "speed %");
    for (const std::string& family : synth_families()) {
        std::vector<Engine> some;
        for (const Engine& e : engines)
            if (e.family == family) some.push_back(e);
        print_family(family, some);
    }
    print_family("all", engines);
    std::vector<double> times;
    for (const Engine& e : engines)
        if (e.estimate_s > 0) times.push_back(e.estimate_s);
    if (!times.empty())
        fmt::print("\nanalysis of one recording in memory: median {:.3f} s, slowest {:.3f} s\n",
                   quantile(times, 0.5), quantile(times, 1.0));
    if (task.csv) write_rows(task.csv->c_str(), engines);
}

}  // namespace accuracy
