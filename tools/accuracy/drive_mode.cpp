// The drive's figures and the kind of each loss against what was put in.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "drawn.hpp"
#include "evenstroke/quantities.hpp"
#include "modes.hpp"
#include "spread.hpp"

namespace accuracy {

namespace {

using namespace evenstroke;

struct Compared {
    const char* figure = "";
    double truth = 0;
    std::optional<Figure> found;
};

/// A cylinder whose loss is more than chance.
struct Loss {
    std::optional<FaultKind> fault;  ///< empty: none was put in
    std::optional<LossKind> named;
    double truth_pct = 0;
};

struct Engine {
    std::string family;
    std::uint64_t seed = 0;
    std::vector<Compared> drive;
    std::vector<Loss> losses;
};

/// With a constant field, the brushes' drop taken off; the battery as it is once it has sagged.
std::vector<Compared> drive_of(const SynthOptions& drawn, const SynthTruth& truth,
                               const DriveFigures& found) {
    const SynthBattery& b = drawn.battery;
    const SynthStarter& s = drawn.starter;
    const double loop_mohm = s.resistance_mohm + b.resistance_mohm + b.sag_mohm + b.cable_mohm;
    return {{"stall current A", 1000 * (b.open_v - s.brush_v) / loop_mohm, found.stall_a},
            {"loop resistance mohm", loop_mohm, found.loop_mohm},
            {"cranking torque N m", truth.torque_nm, found.torque_nm},
            {"engine friction N m", truth.friction_nm / s.efficiency_ratio, found.friction_nm}};
}

/// The fault of a position, when it is the only one there; a gasket stands at both of its cylinders.
std::vector<std::optional<FaultKind>> faults_of(const SynthOptions& drawn, std::vector<int>& count) {
    const int n = drawn.engine.layout.cylinders();
    std::vector<std::optional<FaultKind>> kinds(static_cast<std::size_t>(n));
    count.assign(kinds.size(), 0);
    const auto put = [&](int position, FaultKind kind) {
        kinds[static_cast<std::size_t>(position)] = kind;
        ++count[static_cast<std::size_t>(position)];
    };
    for (const SynthFault& fault : drawn.engine.faults) {
        put(fault.position, fault.kind);
        if (fault.kind == FaultKind::gasket)
            put(fault.neighbour.value_or((fault.position + 1) % n), fault.kind);
    }
    return kinds;
}

void analyse_one(Engine& engine) {
    const SynthOptions drawn = drawn_for("current", engine.family, engine.seed);
    std::optional<SynthResult> made;
    try {
        made = synthesise(drawn, engine.seed);
    } catch (const Error&) {
        return;  // an engine that its starter cannot turn
    }
    try {
        const Analysis a = analyse(made->recording, options_for(drawn, "current"));
        if (drawn.starter.kind == StarterKind::permanent_magnet)
            engine.drive =
                drive_of(drawn, made->truth,
                         drive_figures(a.contribution, battery_levels(made->recording, a.cranking)));
        std::vector<int> count;
        const auto faults = faults_of(drawn, count);
        for (std::size_t i = 0; i < a.findings.verdicts.size() && i < faults.size(); ++i) {
            const bool lost =
                a.findings.verdicts[i] == Verdict::low || a.findings.verdicts[i] == Verdict::weak;
            if (lost && count[i] < 2)
                engine.losses.push_back(
                    {faults[i], a.contribution.cylinders[i].loss_kind, made->truth.contribution_pct[i]});
        }
    } catch (const Error&) {
        return;  // counted by the other modes
    }
}

void print_drive(const std::vector<Engine>& engines) {
    std::vector<const char*> figures;
    std::map<std::string, std::vector<double>> logs;
    std::map<std::string, int> held, all;
    for (const Engine& engine : engines)
        for (const Compared& c : engine.drive) {
            if (std::find(figures.begin(), figures.end(), c.figure) == figures.end())
                figures.push_back(c.figure);
            ++all[c.figure];
            if (!c.found) continue;
            logs[c.figure].push_back(std::log(c.found->value / c.truth));
            held[c.figure] += c.found->low <= c.truth && c.truth <= c.found->high;
        }
    fmt::print("{:<22} {:>9} {:>12} {:>9} {:>7}\n", "figure", "engines", "found/true", "scatter", "holds");
    for (const char* figure : figures) {
        const std::vector<double>& log = logs[figure];
        if (log.empty()) {
            fmt::print("{:<22} {:>4}/{:<4} {:>12}\n", figure, 0, all[figure], "n/a");
            continue;
        }
        double mean = 0, square = 0;
        for (const double v : log) mean += v / static_cast<double>(log.size());
        for (const double v : log) square += (v - mean) * (v - mean) / static_cast<double>(log.size());
        fmt::print("{:<22} {:>4}/{:<4} {:>12.2f} {:>9.2f} {:>5.0f} %\n", figure, log.size(), all[figure],
                   std::exp(quantile(log, 0.5)), std::sqrt(square),
                   100.0 * held[figure] / static_cast<double>(log.size()));
    }
}

LossKind kind_of(FaultKind fault) {
    return counts_in_percent(fault) ? LossKind::charge : LossKind::leak;
}

void print_losses(const std::vector<Engine>& engines) {
    struct Row {
        int right = 0, wrong = 0, not_named = 0;
    };
    std::map<std::string, Row> rows;
    Row all;
    int none = 0, none_named = 0;
    double lowest_pct = 100, highest_pct = 0;  // of those named without a fault
    for (const Engine& engine : engines)
        for (const Loss& loss : engine.losses) {
            if (!loss.fault) {
                ++none;
                if (!loss.named) continue;
                ++none_named;
                lowest_pct = std::min(lowest_pct, loss.truth_pct);
                highest_pct = std::max(highest_pct, loss.truth_pct);
                continue;
            }
            for (Row* row : {&rows[name(*loss.fault)], &all}) {
                row->right += loss.named == kind_of(*loss.fault);
                row->not_named += !loss.named;
                row->wrong += loss.named && loss.named != kind_of(*loss.fault);
            }
        }
    fmt::print("\n{:<14} {:>13} {:>6} {:>10}\n", "fault", "named rightly", "wrong", "not named");
    const auto print = [](const std::string& fault, const Row& row) {
        fmt::print("{:<14} {:>13} {:>6} {:>10}\n", fault, row.right, row.wrong, row.not_named);
    };
    for (const auto& [fault, row] : rows) print(fault, row);
    print("all", all);
    fmt::print("without a fault: {} found low or weak, {} of them named", none, none_named);
    if (none_named > 0) fmt::print(" (in truth at {:.0f} to {:.0f} %)", lowest_pct, highest_pct);
    fmt::print("\n");
}

}  // namespace

void run_drive(const Task& task) {
    auto engines = engines_of<Engine>(task);
    in_parallel(engines.size(), [&](std::size_t i) { analyse_one(engines[i]); });
    fmt::print(
        "Simulated engines (evenstroke synth), current with a sync, {} a family from seed {}.\n"
        "The drive of starters with a constant field: found over true, the middle one; scatter is the\n"
        "standard deviation of its logarithm; holds: how many 95 % intervals hold the truth.\n\n",
        task.engines_each, task.first_seed);
    print_drive(engines);
    fmt::print("\nThe kind of the loss of cylinders found low or weak:\n");
    print_losses(engines);
}

}  // namespace accuracy
